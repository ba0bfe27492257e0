// Asks while something moves: one question at a time is under way, and the newest is asked next.

export interface Latest<Q> {
  /** Ask this as soon as what is under way has been answered. What was to be asked before it is not. */
  ask(question: Q): void;
  /** Forget what is to be asked; an answer under way is dropped. */
  drop(): void;
}

/** `take` and `fail` are told whether nothing newer is to be asked; a failure is told only then. */
export function latest<Q, A>(
  wait_ms: number,
  send: (question: Q) => Promise<A>,
  take: (answer: A, last: boolean) => void,
  fail: (error: unknown) => void,
): Latest<Q> {
  let timer: ReturnType<typeof setTimeout> | undefined;
  let next: { question: Q } | undefined;
  let away = false;
  let dropped = 0; // answers to what was asked before are no longer wanted
  const go = () => {
    timer = undefined;
    if (!next) return;
    const { question } = next;
    const asked = dropped;
    next = undefined;
    away = true;
    send(question).then(
      (answer) => {
        away = false;
        if (asked === dropped) take(answer, !next);
        go();
      },
      (error: unknown) => {
        away = false;
        if (asked === dropped && !next) fail(error);
        go();
      },
    );
  };
  return {
    ask(question) {
      next = { question };
      if (!away) timer ??= setTimeout(go, wait_ms);
    },
    drop() {
      next = undefined;
      dropped++;
      clearTimeout(timer);
      timer = undefined;
    },
  };
}
