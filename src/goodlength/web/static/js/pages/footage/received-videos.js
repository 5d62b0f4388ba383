// @ts-check
/* The videos that phones are sending to a match, on the coach's own screen: how far each is, and a way to stop it. */

import { ask } from '../../lib/server/json-requests.js';
import { el, need } from '../../lib/page/dom.js';
import { leftWords } from '../../lib/server/job-progress.js';
import { amountWords } from '../../lib/page/time-and-score-format.js';

/** @typedef {import('../../lib/server/message-types.js').Transfer} Transfer */
/** What was seen of a transfer: when it began to move, and the last time it did. @typedef {{began: [number, number], at: number, received: number}} Seen */

const list = need('#transfers');
const match = need('#main').dataset.match ?? '';
const OFTEN_MS = 1000;
const SELDOM_MS = 5000;
const STILL_MS = 8000;
/** @type {Map<string, Seen>} */
const seen = new Map();

/** @param {Transfer} transfer */
function stateWords(transfer) {
  const { phase, received, size } = transfer;
  if (phase === 'failed') return transfer.words;
  if (phase === 'done') return 'Received, checked and added to this match.';
  if (phase === 'checking') return `Checking the video: ${Math.floor(transfer.checked * 100)}%`;
  const now = performance.now();
  const before = seen.get(transfer.id) ?? { began: [received / size, now], at: now, received };
  if (received !== before.received) {
    if (now - before.at > STILL_MS) before.began = [before.received / size, now];
    Object.assign(before, { received, at: now });
  }
  seen.set(transfer.id, before);
  const still = now - before.at > STILL_MS;
  const waits = transfer.words || 'Waiting for the phone; it continues where it was.';
  return amountWords(received, size) + (still || transfer.words ? `. ${waits}` : leftWords(...before.began, received / size, now));
}

/** @param {Transfer} transfer */
function row(transfer) {
  const { id, name, phase, received, size } = transfer;
  const open = phase === 'receiving' || phase === 'checking';
  const clear = () => ask(`/api/transfers/${id}/cancel`, { method: 'POST' }).catch(() => {}).then(refresh);
  return el(
    'li',
    { 'data-transfer': id, 'data-phase': phase },
    el('h3', {}, name),
    open ? el('progress', { max: 1, value: phase === 'checking' ? transfer.checked : received / size, 'aria-label': `${name}, received` }) : null,
    el('p', { class: 'small' }, stateWords(transfer)),
    phase === 'done' ? el('a', { href: `/matches/${match}/footage` }, 'Show it in the list') : null,
    phase === 'checking' ? null : el('button', { type: 'button', class: 'link', onclick: clear }, open ? 'Stop and delete' : 'Clear', el('span', { class: 'out-of-sight' }, `: ${name}`)),
  );
}

/** What is shown, so that nothing is drawn twice under a reader's focus. */
let content = '';

async function refresh() {
  const { transfers } = /** @type {import('../../lib/server/message-types.js').Transfers} */ (await ask(`/api/matches/${match}/transfers`));
  const text = JSON.stringify(transfers.map((transfer) => [transfer.id, transfer.phase, stateWords(transfer)]));
  if (text !== content) {
    content = text;
    const focused = document.activeElement?.closest('[data-transfer]')?.getAttribute('data-transfer');
    list.replaceChildren(...transfers.map(row));
    if (focused) /** @type {HTMLElement | null} */ (list.querySelector(`[data-transfer="${focused}"] button`))?.focus();
  }
  return transfers;
}

let open = false; // while the network is lost, what was true before
for (;;) {
  await refresh().then(
    (transfers) => (open = transfers.some(({ phase }) => phase === 'receiving' || phase === 'checking')),
    () => open,
  );
  if (!open && list.dataset.here === undefined) break; // asking on would keep another device's session from ending
  await new Promise((resolve) => setTimeout(resolve, open ? OFTEN_MS : SELDOM_MS));
}
