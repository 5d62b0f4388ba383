// @ts-check
/* The list of matches: a video dropped anywhere on it begins a match; each row gets its result and next step. */

import { ask } from '../../lib/server/json-requests.js';
import { el, need } from '../../lib/page/dom.js';
import { videoDrop } from '../../lib/page/video-drop.js';
import { watch } from '../../lib/server/job-progress.js';

const AT_ONCE = 10; // as in routes.match.match_preparation

videoDrop(need('#video-drop'));
document.querySelector('#begin-here')?.addEventListener('click', () => need('#f-video').click());
void fillRows();
const demo = /** @type {HTMLElement | null} */ (document.querySelector('#demo-job'));
if (demo) void watch(demo, { reload: 'ended' });

/** Ask for the rows in small parts, so that the first are there at once. */
async function fillRows() {
  const cells = /** @type {HTMLElement[]} */ ([...document.querySelectorAll('.state[data-match]')]);
  for (let at = 0; at < cells.length; at += AT_ONCE) {
    const part = cells.slice(at, at + AT_ONCE);
    const ids = part.map((cell) => cell.dataset.match ?? '').join(',');
    const found = /** @type {import('../../lib/server/message-types.js').MatchStates | null} */ (
      await ask(`/api/match-states?ids=${ids}`).catch(() => null)
    );
    for (const state of found?.states ?? []) {
      const cell = part.find((one) => decodeURIComponent(one.dataset.match ?? '') === state.id);
      if (!cell) continue;
      need('.result', cell).textContent = state.result;
      need('.next', cell).append(el('a', { href: state.next.href }, state.next.label));
    }
  }
  document.documentElement.dataset.rows = 'filled';
}
document.documentElement.dataset.ready = 'matches';
