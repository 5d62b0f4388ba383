// @ts-check
/* Questions that follow each other faster than answers: one on its way, the newest waits, none is shown as new that is not. */

/**
 * @template Q, A
 * @typedef {object} Asking
 * @property {(question: Q) => Promise<A>} ask  sends a question
 * @property {(answer: A, newest: boolean, question: Q) => void} show  `newest` is false while a later question waits
 * @property {(stale: boolean) => void} stale  whether what is shown answers an earlier question
 * @property {(problem: unknown) => void} fail  the newest question got no answer; what is shown stays stale
 */

/**
 * Return a function that asks. An answer that comes after a later one was shown cannot happen: they come one at a time.
 * @template Q, A
 * @param {Asking<Q, A>} asking
 * @returns {(question: Q) => void}
 */
export function newestRequest({ ask, show, stale, fail }) {
  let last = 0;
  let busy = false;
  /** @type {{question: Q} | null} */
  let waiting = null;

  async function run() {
    busy = true;
    while (waiting) {
      const { question } = waiting;
      const mine = last;
      waiting = null;
      try {
        const answer = await ask(question);
        if (mine === last) stale(false);
        show(answer, mine === last, question);
      } catch (problem) {
        if (mine === last) fail(problem);
      }
    }
    busy = false;
  }

  return (question) => {
    last += 1;
    waiting = { question };
    stale(true);
    if (!busy) void run();
  };
}
