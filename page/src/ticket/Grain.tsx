import type { JSX } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { grainWords } from "./plan";

const DEGREE = Math.PI / 180;
const REST_MS = 600; // after the last key

/** Which way the fibres run: an arrow that is turned by hand or by arrow keys, written down when let go. */
export function Grain({ grain_rad, turn }: { grain_rad: number; turn: (words: string) => void }): JSX.Element {
  const [held, setHeld] = useState<number | null>(null); // the angle under the hand
  const waiting = useRef(0);
  useEffect(() => setHeld(null), [grain_rad]);
  useEffect(() => () => clearTimeout(waiting.current), []);
  const at = held ?? grain_rad;
  const words = grainWords(at);
  const put = (angle: number) => (grainWords(angle) === grainWords(grain_rad) ? setHeld(null) : turn(grainWords(angle)));
  const dial = useRef<HTMLDivElement>(null);
  const under = (event: PointerEvent) => {
    const box = dial.current?.getBoundingClientRect() ?? new DOMRect();
    return Math.atan2(box.top + box.height / 2 - event.clientY, event.clientX - box.left - box.width / 2);
  };
  const key = (event: KeyboardEvent) => {
    const step = (event.shiftKey ? 5 : 15) * DEGREE;
    const to = {
      ArrowLeft: at + step,
      ArrowUp: at + step,
      ArrowRight: at - step,
      ArrowDown: at - step,
      Home: 0,
      End: Math.PI / 2,
    }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    setHeld(to);
    clearTimeout(waiting.current);
    waiting.current = window.setTimeout(() => put(to), REST_MS);
  };
  return (
    <div class="grain">
      <span aria-hidden="true">grain {words}</span>
      <div
        ref={dial}
        role="slider"
        tabIndex={0}
        class="dial"
        aria-label="Which way the grain runs. Arrow keys turn it; Home is along X, End along Y."
        aria-valuemin={0}
        aria-valuemax={179}
        aria-valuenow={degreesOf(at)}
        aria-valuetext={words}
        title="Turn the grain"
        onPointerDown={(event) => {
          event.currentTarget.setPointerCapture(event.pointerId);
          setHeld(under(event));
        }}
        onPointerMove={(event) => event.currentTarget.hasPointerCapture(event.pointerId) && setHeld(under(event))}
        onPointerUp={(event) => put(under(event))}
        onPointerCancel={() => setHeld(null)}
        onKeyDown={key}
      >
        <svg viewBox="-30 -30 60 60" aria-hidden="true">
          <g class="fibres" transform={`rotate(${-degreesOf(at)})`}>
            <path d="M-17 -9H15M-19 9H17M-9 -16H7M-7 16H9" />
            <path class="arrow" d="M-24 0H24M-17 -6 -24 0-17 6" />
            <circle cx="24" r="5.5" />
          </g>
        </svg>
      </div>
    </div>
  );
}

const degreesOf = (angle: number): number => Math.round((((angle / DEGREE) % 180) + 180) % 180) % 180;
