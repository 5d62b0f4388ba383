// @ts-check
/* The page on which a phone sends a video: choose it, see how far it is, go on after a break. */

import { NoConnectionError, ask } from '../../lib/server/json-requests.js';
import { need } from '../../lib/page/dom.js';
import { leftWords } from '../../lib/server/job-progress.js';
import { sendVideo } from '../../lib/server/video-transfer.js';
import { amountWords } from '../../lib/page/time-and-score-format.js';

const match = need('#main').dataset.match ?? '';
const chooser = /** @type {HTMLInputElement} */ (need('#f-video'));
const bar = /** @type {HTMLProgressElement} */ (need('#bar'));
const codeForm = /** @type {HTMLFormElement} */ (need('#code-form'));
const [goOn, stop, another] = [need('#go-on'), need('#stop'), need('#another')];

/** @type {Record<import('../../lib/server/video-transfer.js').Doing, string>} */
const WORDS = {
  reading: 'Reading the video.',
  sending: 'Sending',
  'no network': 'No connection to the computer. Sending continues by itself when the connection is back.',
  code: 'Your session has ended. Enter the pass code to continue; what was sent is safe.',
  space: '',
  checking: 'All sent. The computer is checking the video.',
  done: 'Done. The computer has checked the video and added it to the match. The original is still on this phone.',
  failed: '',
  stopped: 'Stopped. What was sent is deleted; the original is still on this phone.',
};

let stopped = false;
/** @type {import('../../lib/server/message-types.js').Transfer | null} */
let last = null;
/** @type {[number, number] | null} */
let began = null;
/** @type {() => void} */
let wake = () => {};
/** @type {() => void} */
let entered = () => {};

/** @type {import('../../lib/server/video-transfer.js').Page} */
const page = {
  show(doing, transfer, words = '') {
    last = transfer ?? last;
    const ended = doing === 'done' || doing === 'failed' || doing === 'stopped';
    if (doing !== 'sending') began = null;
    need('#state').textContent = words || (doing === 'sending' && transfer ? `${WORDS.sending}${left(transfer)}.` : WORDS[doing]);
    need('#amount').textContent = transfer && !ended ? amountWords(transfer.received, transfer.size) : '';
    if (transfer) bar.value = doing === 'done' ? 1 : transfer.received / transfer.size;
    bar.hidden = doing === 'failed' || doing === 'stopped';
    codeForm.hidden = doing !== 'code';
    goOn.hidden = doing !== 'space';
    stop.hidden = ended || doing === 'checking';
    another.hidden = !ended;
    document.documentElement.dataset.doing = doing;
  },
  pause: (milliseconds) =>
    new Promise((resolve) => {
      wake = () => resolve(null);
      setTimeout(resolve, milliseconds);
    }),
  code: () =>
    new Promise((resolve) => {
      entered = () => resolve(null);
    }),
  goOn: () =>
    new Promise((resolve) => {
      wake = () => resolve(null);
      goOn.addEventListener('click', resolve, { once: true });
    }),
  stopped: () => stopped,
};

/** @param {import('../../lib/server/message-types.js').Transfer} transfer */
function left(transfer) {
  const [share, now] = [transfer.received / transfer.size, performance.now()];
  began ??= [share, now];
  return leftWords(...began, share, now);
}

codeForm.addEventListener('submit', (event) => {
  event.preventDefault();
  void enter();
});

async function enter() {
  const fault = need('#h-code');
  const code = /** @type {HTMLInputElement} */ (need('#f-code')).value;
  try {
    const answer = await fetch('/enter', { method: 'POST', body: new URLSearchParams({ code, to: location.pathname }) });
    fault.hidden = answer.ok;
    fault.textContent = answer.status === 429 ? 'Too many attempts. Wait a minute, then type the pass code.' : 'Wrong pass code. It is shown on the computer.';
    if (answer.ok) entered();
  } catch {
    fault.hidden = false;
    fault.textContent = 'No connection to the computer. Try again.';
  }
}

chooser.addEventListener('change', () => {
  const file = chooser.files?.[0];
  if (file) void send(file);
});

/** @param {File} file */
async function send(file) {
  stopped = false;
  last = null;
  need('#chosen').textContent = file.name;
  need('#choose').hidden = true;
  need('#sending').hidden = false;
  bar.value = 0;
  await sendVideo(file, match, page);
}

stop.addEventListener('click', () => {
  stopped = true;
  wake();
  entered();
  if (last) void ask(`/api/transfers/${last.id}/cancel`, { method: 'POST' }).catch(leftOver);
});

/** @param {unknown} problem */
function leftOver(problem) {
  if (problem instanceof NoConnectionError) need('#state').textContent = 'Stopped. The computer cannot be reached; it deletes what was sent after three days.';
}

another.addEventListener('click', () => {
  chooser.value = '';
  need('#choose').hidden = false;
  need('#sending').hidden = true;
});

for (const event of ['online', 'pageshow']) window.addEventListener(event, () => wake());
document.addEventListener('visibilitychange', () => {
  if (!document.hidden) wake();
});
window.addEventListener('beforeunload', (event) => {
  if (!need('#sending').hidden && another.hidden) event.preventDefault();
});
document.documentElement.dataset.ready = 'phone';
