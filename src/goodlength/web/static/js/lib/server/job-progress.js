// @ts-check
/* The progress of a job: its bar, its words and about how long it still takes. */

import { ask } from './json-requests.js';
import { need } from '../page/dom.js';

const LEAST_SHARE = 0.03; // of progress seen before the time left is guessed from it
const LEAST_MS = 4000;

/**
 * About how long is left, from the progress seen on this page; empty while that is too little to tell.
 * @param {number} began_share @param {number} began_ms @param {number} share @param {number} now_ms
 */
export function leftWords(began_share, began_ms, share, now_ms) {
  const done = share - began_share;
  if (done < LEAST_SHARE || now_ms - began_ms < LEAST_MS || share >= 1) return '';
  const left_s = (((1 - share) / done) * (now_ms - began_ms)) / 1000;
  if (left_s < 60) return ', less than a minute left';
  const minutes = Math.round(left_s / 60);
  return `, about ${minutes} ${minutes === 1 ? 'minute' : 'minutes'} left`;
}

/**
 * Show a job until it ends; the page is loaded anew once it is done, or however it ended.
 * @param {HTMLElement} box @param {{reload?: 'done' | 'ended'}} [how]
 */
export async function watch(box, { reload = 'done' } = {}) {
  const job = `/api/jobs/${encodeURIComponent(box.dataset.job ?? '')}`;
  const progress = /** @type {HTMLProgressElement} */ (need('progress', box));
  /** @type {[number, number] | null} */
  let began = null;
  need('.cancel', box).addEventListener('click', () => ask(`${job}/cancel`, { method: 'POST' }).catch(() => {}));
  for (;;) {
    const state = /** @type {import('./message-types.js').Job | null} */ (await ask(job).catch(() => null));
    if (state) {
      const now = performance.now();
      if (state.state === 'running') began ??= [state.share, now];
      progress.value = state.share;
      const left = began && state.state === 'running' ? leftWords(...began, state.share, now) : '';
      need('.words', box).textContent = state.words + left;
      if (state.state !== 'queued' && state.state !== 'running') {
        if (state.state === 'done' || reload === 'ended') location.reload();
        need('.cancel', box).hidden = true;
        const again = /** @type {HTMLElement | null} */ (box.querySelector('form'));
        if (again) again.hidden = false;
        return;
      }
    }
    await new Promise((resolve) => setTimeout(resolve, 500));
  }
}
