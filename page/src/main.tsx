import { render } from "preact";
import { useCallback, useEffect, useReducer, useRef } from "preact/hooks";
import { Frame } from "./Frame";
import { NotDone, ask, listen, ofJob, tell } from "./server";
import { EMPTY, placeOf, update } from "./state";
import "./style.css";
import "./ticket.css";
import type { State, Ticket } from "./wire";

function App() {
  const [page, send] = useReducer(update, { ...EMPTY, place: placeOf(location.hash) });
  const now = useRef(page);
  now.current = page;

  const said = useCallback((error: unknown) => {
    if (!(error instanceof NotDone)) throw error;
    if (error.status === 0) send({ kind: "there", there: false });
    else send({ kind: "said", said: { words: error.problem, remedy: error.remedy } });
  }, []);

  useEffect(
    () =>
      listen({
        state: (state) => send({ kind: "state", state }),
        errand: (errand) => send({ kind: "errand", errand }),
        gone: () => send({ kind: "there", there: false }),
        back: () => send({ kind: "there", there: true }),
      }),
    [],
  );
  useEffect(() => {
    const go = () => send({ kind: "place", place: placeOf(location.hash) });
    addEventListener("hashchange", go);
    return () => removeEventListener("hashchange", go);
  }, []);

  const job = page.place.room === "job" ? page.place.job : "";
  const version = page.shop?.version ?? -1;
  useEffect(() => {
    if (!job) return;
    ask<Ticket>(ofJob(job)).then(
      (ticket) => send({ kind: "ticket", ticket }),
      (error: unknown) => {
        const { place } = now.current; // a job that was taken back meanwhile is not missed
        if (place.room === "job" && place.job === job) said(error);
      },
    );
  }, [job, version, said]);

  const again = useCallback(
    (way: "undo" | "redo") => {
      tell<State>(`api/${way}`).then((state) => send({ kind: "state", state }), said);
    },
    [said],
  );
  useEffect(() => {
    const keys = (event: KeyboardEvent) => {
      const typing = (event.target as HTMLElement).closest("input:not([type=range]), textarea, select");
      if (typing || !(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") return;
      event.preventDefault();
      again(event.shiftKey ? "redo" : "undo");
    };
    addEventListener("keydown", keys);
    return () => removeEventListener("keydown", keys);
  }, [again]);

  return <Frame page={page} send={send} said={said} again={again} />;
}

const root = document.getElementById("page");
if (root) render(<App />, root);
