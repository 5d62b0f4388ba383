// @ts-check
/* The queue of a match: how far each step is, and what comes next, as they change. */

import { ask } from '../../lib/server/json-requests.js';
import { need } from '../../lib/page/dom.js';
import { namesForm } from '../../lib/page/names-form.js';
import { videoDrop } from '../../lib/page/video-drop.js';

const EVERY_MS = 1000;
const ON_THIS_PAGE = new Set(['names', 'send', 'trouble', 'wait']); // nothing to go to
const match = need('#main').dataset.match ?? '';

const drop = /** @type {HTMLElement | null} */ (document.querySelector('#video-drop'));
if (drop) videoDrop(drop);
const names = /** @type {HTMLFormElement | null} */ (document.querySelector('#names'));
if (names)
  namesForm(
    names,
    () => decodeURIComponent(match),
    (title) => {
      need('.match .who strong').textContent = title;
      void refresh();
    },
  );

/** Show the queue as it is now; whether goodlength still works. */
async function refresh() {
  const found = /** @type {import('../../lib/server/message-types.js').Preparation | null} */ (
    await ask(`/api/matches/${match}/preparation`).catch(() => null)
  );
  if (!found) return true;
  need('#left').textContent = found.left ? `${found.left[0]?.toUpperCase()}${found.left.slice(1)}.` : found.paused ? 'Paused' : '';
  for (const part of found.steps) showStep(part);
  const failed = found.steps.some((part) => part.state === 'failed' || part.state === 'stopped');
  show('#pause', found.works);
  show('#cancel', found.works || failed);
  show('#try-again', failed);
  showNext(found.next);
  return found.works;
}

/** @param {string} id @param {boolean} shown */
function show(id, shown) {
  const form = /** @type {HTMLElement | null} */ (document.querySelector(id));
  if (form) form.hidden = !shown;
}

/** @param {import('../../lib/server/message-types.js').PreparationStep} part */
function showStep(part) {
  const row = /** @type {HTMLElement | null} */ (document.querySelector(`#queue [data-step="${part.name}"]`));
  if (!row) return location.reload(); // a step that was not needed before
  row.dataset.state = part.state;
  need('.words', row).textContent = part.words;
  const bar = /** @type {HTMLProgressElement} */ (need('progress', row));
  bar.value = part.share;
  bar.hidden = part.state !== 'running';
  for (const form of row.querySelectorAll('[data-choice]')) {
    const offered = form.getAttribute('data-choice') === 'can_take_in' ? part.can_take_in : part.can_leave_out;
    form.toggleAttribute('hidden', !offered);
  }
}

/** @param {import('../../lib/server/message-types.js').NextStep} next */
function showNext(next) {
  const button = /** @type {HTMLAnchorElement} */ (need('#next-step a'));
  button.textContent = next.label;
  button.href = next.href;
  button.classList.toggle('plain', !next.needed);
  need('#next-why').textContent = next.why;
  need('#why').textContent = next.why;
  const here = need('#next-here');
  here.hidden = ON_THIS_PAGE.has(next.name);
  const link = /** @type {HTMLAnchorElement} */ (need('a', here));
  link.textContent = next.label.replace(/^Next: /, '');
  link.href = next.href;
  const skip = /** @type {HTMLFormElement} */ (need('#skip'));
  skip.hidden = !next.can_skip;
  skip.action = `/matches/${match}/prepare/skip/${next.name}`;
}

async function watch() {
  for (;;) {
    if (!document.hidden && !(await refresh())) await new Promise((resolve) => setTimeout(resolve, 4 * EVERY_MS));
    await new Promise((resolve) => setTimeout(resolve, EVERY_MS));
  }
}
if (document.querySelector('#queue')) void watch();
document.documentElement.dataset.ready = 'preparation';
