import type { JSX } from "preact";
import { useEffect, useId, useMemo, useState } from "preact/hooks";
import { ask } from "../server";
import type { GiveHere, MachineCard } from "../wire";
import { Drawing, keyed } from "./Drawing";
import { latest } from "./latest";
import { type Place, SAG, type View, heightOf, within } from "./place";

const NAMES = ["X", "Y", "Z"] as const;

/** The machine to look at: move it, and read how far the nose gives where it stands. */
export function Look({ card, tried, said }: { card: MachineCard; tried: boolean; said: (error: unknown) => void }): JSX.Element {
  const { drawing, give } = card;
  const id = useId();
  const [place, setPlace] = useState<Place>(() => {
    const [x, y, z] = drawing.travel_mm;
    return [x / 2, y / 2, z];
  });
  const [along, setAlong] = useState(0);
  const [here, setHere] = useState<GiveHere | null>(null);
  const height = heightOf(place, drawing.travel_mm);
  const pointer = useMemo(
    () => latest(30, (where: string) => ask<GiveHere>(where), (answer) => setHere(answer), said),
    [said],
  );
  const [x, y] = place;
  useEffect(() => {
    pointer.ask(`api/machine/at?x=${x.toFixed(1)}&y=${y.toFixed(1)}&z=${height}&along=${along === SAG ? 2 : along}`);
  }, [pointer, x, y, height, along, card]);
  const go = (next: Place) => setPlace(within(next, drawing.travel_mm));
  const keys = (view: View) => (event: KeyboardEvent) => {
    const next = keyed(event, view, place, drawing);
    if (!next) return;
    event.preventDefault();
    setPlace(next);
  };
  const slide = (axis: 0 | 1 | 2) => (event: { currentTarget: HTMLInputElement }) => {
    const next: [number, number, number] = [...place];
    next[axis] = Number(event.currentTarget.value);
    go(next);
  };
  const hangs = along === SAG;
  const legend = hangs ? give.sag_legend : (give.legend[height]?.[along] ?? []);

  return (
    <section class="look" aria-labelledby={`${id}-h`}>
      <h2 id={`${id}-h`}>Where it gives</h2>
      <p class="lead">
        Move the spindle over the bed: drag it, or use the sliders or the arrow keys. Darker gives more.
      </p>
      <div class="views">
        <figure tabIndex={0} aria-label="From above: arrow keys move X and Y" onKeyDown={keys("plan")}>
          <figcaption>from above</figcaption>
          <Drawing drawing={drawing} place={place} go={go} view="plan" give={{ map: give, height, along }} />
        </figure>
        <figure tabIndex={0} aria-label="From the front: arrow keys move X and Z" onKeyDown={keys("front")}>
          <figcaption>from the front</figcaption>
          <Drawing drawing={drawing} place={place} go={go} view="front" />
          <div class="axes">
            {NAMES.map((name, axis) => (
              <label key={name}>
                <b>{name}</b>
                <input
                  type="range"
                  min={0}
                  max={drawing.travel_mm[axis as 0 | 1 | 2]}
                  step={1}
                  value={place[axis as 0 | 1 | 2]}
                  onInput={slide(axis as 0 | 1 | 2)}
                  aria-label={axis === 2 ? "how far Z has come down, mm" : `${name}, mm`}
                />
              </label>
            ))}
          </div>
        </figure>
      </div>
      <div class="reading">
        <fieldset>
          <legend>Push it with {give.push_words} along</legend>
          {NAMES.map((name, axis) => (
            <label key={name} class="pick">
              <input type="radio" name={`${id}-along`} checked={along === axis} onChange={() => setAlong(axis)} />
              {name}
            </label>
          ))}
          <label class="pick">
            <input type="radio" name={`${id}-along`} checked={hangs} onChange={() => setAlong(SAG)} />
            or let it hang
          </label>
          <p class="ramp" aria-hidden="true">
            {legend.length ? (
              <>
                <span>{legend[0]?.words}</span>
                <i />
                <span>{legend.at(-1)?.words}</span>
              </>
            ) : null}
          </p>
          <p class="soft">{hangs ? give.sag_words : give.even[height]?.[along]}</p>
        </fieldset>
        <div class="told">
          <p role="status">
            {here ? (
              <>
                <span class="where">{here.words[0]}</span>
                <b>{here.words[hangs ? 3 : 1]}</b>
                <span class="where">{here.words[hangs ? 1 : 3]}</span>
              </>
            ) : (
              "…"
            )}
          </p>
          {tried ? <p class="soft">This is read from the machine as it is, not as tried.</p> : null}
          <ul class="shares" aria-label="What gives there">
            {here?.parts.map((part) => (
              <li key={part.part}>
                <span style={{ width: `${(100 * part.share) / (here.parts[0]?.share ?? 1)}%` }} />
                {part.words}
              </li>
            ))}
          </ul>
        </div>
      </div>
    </section>
  );
}
