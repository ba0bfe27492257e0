import type { JSX } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import type { BoardFacts } from "../wire";
import type { Arrays } from "./arrays";
import { keyframeAt } from "./arrays";
import { SolidView } from "./solidView";

/** The board as cut, turned by hand or by arrow keys. On request only. */
export default function Solid({ arrays, board, now_s }: { arrays: Arrays; board: BoardFacts; now_s: number }): JSX.Element {
  const canvas = useRef<HTMLCanvasElement>(null);
  const view = useRef<SolidView | null>(null);
  const [failed, setFailed] = useState(false);
  useEffect(() => {
    if (!canvas.current) return;
    try {
      view.current = new SolidView(canvas.current, arrays.maps, board);
    } catch {
      setFailed(true); // no WebGL here: the picture in plan says the same
      return;
    }
    return () => view.current?.end();
  }, [arrays, board]);
  useEffect(() => {
    let wanted = true;
    const number = keyframeAt(arrays.maps.keyframes, now_s);
    const both = Promise.all([arrays.layer(number), number > 0 ? arrays.layer(number - 1) : null]);
    void both.then(([layer, before]) => wanted && view.current?.show(layer, before, now_s / arrays.maps.time.step_s + 0.5));
    return () => {
      wanted = false;
    };
  }, [arrays, now_s]);
  if (failed) return <p>This browser cannot draw it; the board in plan shows the same.</p>;
  return (
    <canvas
      ref={canvas}
      class="solid"
      tabIndex={0}
      role="img"
      aria-label="The board as cut, seen from in front and above. Arrow keys turn it, plus and minus come nearer."
      onKeyDown={(event) => {
        if (view.current?.key(event.key)) event.preventDefault();
      }}
    />
  );
}
