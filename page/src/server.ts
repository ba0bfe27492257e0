// Talks to the server that handed out this page, and to nothing else.

import type { Errand, Refusal, State } from "./wire";

const token = (): string =>
  document.querySelector<HTMLMetaElement>('meta[name="kw-token"]')?.content ?? "";

/** What the server would not do, in words. `refused` where a text could not be understood. */
export class NotDone extends Error {
  constructor(
    readonly status: number,
    readonly problem: string,
    readonly remedy: string,
    readonly refused: Refusal[] = [],
  ) {
    super(problem);
  }
}

/** Reads one answer as JSON. Throws `NotDone`. */
export async function ask<T>(path: string): Promise<T> {
  return (await answered(await reach(path))).json() as Promise<T>;
}

/** Reads one answer as raw bytes. */
export async function askRaw(path: string): Promise<ArrayBuffer> {
  return (await answered(await reach(path))).arrayBuffer();
}

/** Asks for something to be done. */
export async function tell<T>(path: string, body: unknown = {}): Promise<T> {
  const headers = { "content-type": "application/json", "kerfwright-token": token() };
  const answer = await reach(path, { method: "POST", headers, body: JSON.stringify(body) });
  return (await answered(answer)).json() as Promise<T>;
}

/** Hands over a program's file as it is. */
export async function bring<T>(file: File): Promise<T> {
  const path = `api/programs/${encodeURIComponent(file.name)}`;
  const headers = { "kerfwright-token": token() };
  return (await answered(await reach(path, { method: "PUT", headers, body: file }))).json() as Promise<T>;
}

export const ofJob = (name: string, rest = ""): string =>
  `api/jobs/${encodeURIComponent(name)}${rest}`;

async function reach(path: string, init?: RequestInit): Promise<Response> {
  try {
    return await fetch(path, init);
  } catch {
    throw new NotDone(0, "Kerfwright does not answer", "start it again: kerfwright open");
  }
}

async function answered(answer: Response): Promise<Response> {
  if (answer.ok) return answer;
  const told: unknown = await answer.json().catch(() => null);
  if (Array.isArray(told)) {
    const refused = told as Refusal[];
    const first = refused[0];
    throw new NotDone(answer.status, first?.problem ?? "", first?.remedy ?? "", refused);
  }
  const words = (told ?? {}) as { problem?: string; remedy?: string };
  throw new NotDone(
    answer.status,
    words.problem ?? `that was not done (${answer.status})`,
    words.remedy ?? "reload the page",
  );
}

export interface Hears {
  state(state: State): void;
  errand(errand: Errand): void;
  gone(): void;
  back(): void;
}

/** Opens the one stream of events. Returns what closes it. */
export function listen(hears: Hears): () => void {
  const stream = new EventSource("api/events");
  const read = <T>(event: Event): T => JSON.parse((event as MessageEvent<string>).data) as T;
  stream.addEventListener("open", () => hears.back());
  stream.addEventListener("state", (event) => hears.state(read<State>(event)));
  stream.addEventListener("errand", (event) => hears.errand(read<Errand>(event)));
  stream.addEventListener("gone", () => hears.gone());
  stream.addEventListener("error", () => hears.gone());
  return () => stream.close();
}
