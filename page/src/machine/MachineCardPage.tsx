import type { JSX } from "preact";
import { useCallback, useEffect, useMemo, useState } from "preact/hooks";
import type { Hand } from "../Frame";
import { NotDone, ask, tell } from "../server";
import type { Lever, MachineCard, Refusal } from "../wire";
import { Curves } from "./Curves";
import { Facts } from "./Facts";
import { Interview } from "./Interview";
import { nextOpen } from "./interview";
import { latest } from "./latest";
import { type Change, type Set, changesOf, moved } from "./levers";
import { LetsGo } from "./LetsGo";
import { Look } from "./Look";
import { Next } from "./Next";
import { Swings } from "./Swings";
import { WhatIf } from "./WhatIf";
import "./machine.css";

/** Until the first question goes out; after that one follows the other while a slider moves. */
const FIRST_MS = 40;

/** The machine's card, as pinned to the workshop's wall: read from top to bottom. */
export function MachineCardPage({ page, send, said }: Hand): JSX.Element {
  const [broken, setBroken] = useState<NotDone | null>(null);
  const [open, setOpen] = useState<number | null>(null);
  const [set, setSet] = useState<Set>({});
  const [tried, setTried] = useState<MachineCard | null>(null);
  const [refused, setRefused] = useState<Refusal | null>(null);
  const [busy, setBusy] = useState(false);
  const card = page.machine;
  const version = page.shop?.version ?? -1;
  const readOnly = page.shop?.workshop.read_only ?? false;

  useEffect(() => {
    ask<MachineCard>("api/machine").then(
      (machine) => {
        setBroken(null);
        send({ kind: "machine", machine });
      },
      (error: unknown) => (error instanceof NotDone && error.refused.length ? setBroken(error) : said(error)),
    );
  }, [send, said, version]);

  const trying = useMemo(
    () =>
      latest<Change[], MachineCard>(
        FIRST_MS,
        (changes) => tell<MachineCard>("api/machine/what_if", { changes }),
        (answer, last) => {
          setTried(answer);
          setRefused(null);
          if (last) setBusy(false);
        },
        (error) => {
          setBusy(false);
          const first = error instanceof NotDone ? error.refused[0] : undefined;
          if (first) setRefused(first);
          else said(error);
        },
      ),
    [said],
  );
  const leave = useCallback(() => {
    trying.drop();
    setSet({});
    setTried(null);
    setRefused(null);
    setBusy(false);
  }, [trying]);
  const change = useCallback(
    (changes: Change[]) =>
      tell<MachineCard>("api/machine/change", { changes }).then((machine) => {
        send({ kind: "machine", machine });
        leave();
      }),
    [send, leave],
  );

  if (broken)
    return (
      <article class="sheet card">
        <p class="kind">Machine card</p>
        <h1>machine.toml cannot be read yet</h1>
        <ul>
          {broken.refused.map((one) => (
            <li key={`${one.line}-${one.problem}`}>
              {one.line ? `Line ${one.line}: ` : ""}
              <b>{one.problem}</b>. {one.remedy}.
            </li>
          ))}
        </ul>
      </article>
    );
  if (!card) return <p class="sheet empty">Working the machine out …</p>;

  const turn = (lever: Lever, stop: number) => {
    const next = moved(set, lever, stop);
    setSet(next);
    const changes = changesOf(next, card.levers);
    if (!changes.length) return leave();
    setBusy(true);
    trying.ask(changes);
  };
  const shown = tried ? { ...tried, narrows_most: card.narrows_most, levers: card.levers } : card;
  const toQuestion = (id: string) => {
    const at = card.questions.findIndex((question) => question.id === id);
    setOpen(at >= 0 ? at : nextOpen(card.questions, 0));
  };

  return (
    <article class="sheet card">
      <span class="pin-head" aria-hidden="true" />
      <p class="kind">
        Machine card <span>{card.answered}</span>
      </p>
      <h1>{card.name}</h1>
      <p class="answer">{card.sentence}</p>
      <p class="soft">{card.spread_words}</p>
      <Next card={card} toQuestion={toQuestion} />
      <Interview questions={card.questions} at={open} open={setOpen} change={change} said={said} readOnly={readOnly} />
      <Look card={shown} tried={tried !== null} said={said} />
      <WhatIf
        levers={card.levers}
        set={set}
        tried={tried}
        refused={refused}
        busy={busy}
        move={turn}
        keep={() => void change(changesOf(set, card.levers)).catch(said)}
        leave={leave}
        readOnly={readOnly}
      />
      <Curves card={shown} />
      <LetsGo opens={shown.opens} />
      <Swings card={shown} />
      <Facts card={shown} />
    </article>
  );
}
