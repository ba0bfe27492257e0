import type { Lever } from "../wire";

/** Where each lever was put, by id; one that stands as it is has no entry. */
export type Set = Readonly<Record<string, number>>;

export interface Change {
  path: string;
  typed: string;
}

/** A lever moved to one of its stops. */
export function moved(set: Set, lever: Lever, stop: number): Set {
  const next = { ...set };
  if (stop === lever.now) delete next[lever.id];
  else next[lever.id] = stop;
  return next;
}

/** What all levers together would change. */
export function changesOf(set: Set, levers: readonly Lever[]): Change[] {
  return levers.flatMap((lever) => lever.stops[set[lever.id] ?? lever.now]?.changes ?? []);
}

/** What is tried, in words: "height of the beam 120 mm, volts of the supply 48 V". */
export function triedWords(set: Set, levers: readonly Lever[]): string {
  return levers
    .flatMap((lever) => {
      const stop = lever.stops[set[lever.id] ?? -1];
      return stop ? [`${lever.label} ${stop.words}`] : [];
    })
    .join(", ");
}
