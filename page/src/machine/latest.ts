// Asks while something moves: waits until it rests for a moment, and drops what comes too late.

export interface Latest<Q> {
  /** Ask this, unless something else is asked within the wait. */
  ask(question: Q): void;
  /** Forget what was asked; an answer under way is dropped. */
  drop(): void;
}

export function latest<Q, A>(
  wait_ms: number,
  send: (question: Q) => Promise<A>,
  take: (answer: A, question: Q) => void,
  fail: (error: unknown, question: Q) => void,
): Latest<Q> {
  let timer: ReturnType<typeof setTimeout> | undefined;
  let number = 0;
  return {
    ask(question) {
      const own = ++number;
      clearTimeout(timer);
      timer = setTimeout(() => {
        send(question).then(
          (answer) => own === number && take(answer, question),
          (error: unknown) => own === number && fail(error, question),
        );
      }, wait_ms);
    },
    drop() {
      number++;
      clearTimeout(timer);
    },
  };
}
