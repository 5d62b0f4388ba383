// @ts-check
/* Clips, reels and the like being made: progress, stop, and the page anew when one is done. */

import { ask } from '../lib/api.js';
import { need } from '../lib/dom.js';

for (const box of document.querySelectorAll('.made[data-job]')) void watch(/** @type {HTMLElement} */ (box));

/** @param {HTMLElement} box */
async function watch(box) {
  const job = `/api/jobs/${encodeURIComponent(box.dataset.job ?? '')}`;
  need('.cancel', box).addEventListener('click', () => ask(`${job}/cancel`, { method: 'POST' }).catch(() => {}));
  for (;;) {
    const state = await ask(job).catch(() => null);
    if (state) {
      /** @type {HTMLProgressElement} */ (need('progress', box)).value = state.share;
      need('.words', box).textContent = state.words;
      if (state.state !== 'queued' && state.state !== 'running') return location.reload();
    }
    await new Promise((resolve) => setTimeout(resolve, 400));
  }
}
