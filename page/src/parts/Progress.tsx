import type { JSX } from "preact";
import type { Errand } from "../wire";

const left = (seconds: number): string =>
  seconds < 90 ? `about ${Math.max(1, Math.round(seconds))} s left` : `about ${Math.round(seconds / 60)} min left`;

/** A long piece of work under way, with a way to end it. */
export function Progress({ errand, stop }: { errand: Errand; stop: () => void }): JSX.Element {
  return (
    <div class="progress">
      <p role="status">
        {errand.what}: {errand.stage}
        {errand.left_s !== null ? <span>, {left(errand.left_s)}</span> : null}
      </p>
      <progress max={1} value={errand.done} aria-label={errand.what} />
      <button type="button" onClick={stop}>
        Stop
      </button>
    </div>
  );
}
