// The arrays of a proof, fetched once for each proof.

import { ask, askRaw, ofJob } from "../server";
import type { Maps } from "../wire";

export interface Layer {
  height: Int16Array;
  time: Uint16Array;
}

/** Everything that the board's picture is made from. `layer(k)`: as it is after change k. */
export class Arrays {
  private readonly layers = new Map<number, Promise<Layer>>();
  private constructor(
    readonly job: string,
    readonly maps: Maps,
    readonly error: Int16Array,
    readonly last: Layer,
  ) {}

  static async of(job: string, madeAt: string): Promise<Arrays> {
    const key = `made_at=${encodeURIComponent(madeAt)}`;
    const maps = await ask<Maps>(ofJob(job, `/maps?${key}`));
    const [height, error, time] = await Promise.all([
      askRaw(ofJob(job, `/maps/height?${key}`)),
      askRaw(ofJob(job, `/maps/error?${key}`)),
      askRaw(ofJob(job, `/maps/time?${key}`)),
    ]);
    const last = { height: new Int16Array(height), time: new Uint16Array(time) };
    return new Arrays(job, maps, new Int16Array(error), last);
  }

  layer(number: number): Promise<Layer> {
    if (number >= this.maps.keyframes.length) return Promise.resolve(this.last);
    let found = this.layers.get(number);
    if (!found) {
      const key = `made_at=${encodeURIComponent(this.maps.made_at)}&keyframe=${number}`;
      found = Promise.all([
        askRaw(ofJob(this.job, `/maps/height?${key}`)),
        askRaw(ofJob(this.job, `/maps/time?${key}`)),
      ]).then(([height, time]) => ({ height: new Int16Array(height), time: new Uint16Array(time) }));
      this.layers.set(number, found);
    }
    return found;
  }
}

/** Which keyframe shows a moment: the first whose change comes at or after it; else the end. */
export function keyframeAt(keyframes: readonly { after_s: number }[], time_s: number): number {
  const at = keyframes.findIndex((one) => time_s <= one.after_s);
  return at < 0 ? keyframes.length : at;
}
