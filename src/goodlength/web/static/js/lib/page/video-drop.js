// @ts-check
/* A video dropped on the page or chosen: it begins a match, or is the rest of one that arrived in part. */

import { NoConnectionError, RefusedError, ask } from '../server/json-requests.js';
import { leftWords } from '../server/job-progress.js';
import { fingerprint, sendVideo } from '../server/video-transfer.js';
import { need } from './dom.js';
import { notOneVideo, readDrop } from './dropped-video.js';
import { namesForm } from './names-form.js';
import { amountWords } from './time-and-score-format.js';

/** @type {Record<import('../server/video-transfer.js').Doing, string>} */
const WORDS = {
  reading: 'Reading the video.',
  sending: 'Copying',
  'no network': 'goodlength does not answer. Copying goes on by itself once it does; keep this page open.',
  code: 'Your session has ended. Reload the page and enter the pass code, then choose the same video again.',
  space: '',
  checking: 'All copied. goodlength checks the video.',
  done: 'Done.',
  failed: '',
  stopped: 'Stopped. What was copied is deleted; the original is where it was.',
};

/** Let the section take a video. @param {HTMLElement} section */
export function videoDrop(section) {
  const chooser = /** @type {HTMLInputElement} */ (need('#f-video', section));
  const bar = /** @type {HTMLProgressElement} */ (need('#bar', section));
  const [goOn, stop, words] = [need('#go-on', section), need('#stop', section), need('#drop-words', section)];
  const over = need('#drop-here');
  const names = /** @type {HTMLFormElement | null} */ (section.querySelector('#names'));
  let match = section.dataset.match ?? '';
  const begins = match === '';
  let busy = false;
  let stopped = false;
  /** @type {import('../server/message-types.js').Transfer | null} */
  let last = null;
  /** @type {[number, number] | null} */
  let began = null;
  /** @type {() => void} */
  let wake = () => {};
  const saveNames = names ? namesForm(names, () => match) : async () => true;

  /** @param {string} text */
  function say(text) {
    words.textContent = text;
    words.hidden = text === '';
  }

  /** @type {import('../server/video-transfer.js').Page} */
  const page = {
    show(doing, transfer, text = '') {
      last = transfer ?? last;
      if (doing !== 'sending') began = null;
      need('#state', section).textContent = text || (doing === 'sending' && transfer ? `${WORDS.sending}${left(transfer)}.` : WORDS[doing]);
      need('#amount', section).textContent = transfer ? amountWords(transfer.received, transfer.size) : '';
      if (transfer) bar.value = doing === 'done' ? 1 : transfer.received / transfer.size;
      goOn.hidden = doing !== 'space';
      stop.hidden = doing === 'checking' || doing === 'done';
      if (doing === 'failed') say(text);
      section.dataset.doing = doing;
    },
    pause: (milliseconds) =>
      new Promise((resolve) => {
        wake = () => resolve(null);
        setTimeout(resolve, milliseconds);
      }),
    code: () => new Promise(() => {}),
    goOn: () =>
      new Promise((resolve) => {
        wake = () => resolve(null);
        goOn.addEventListener('click', resolve, { once: true });
      }),
    stopped: () => stopped,
  };

  /** @param {import('../server/message-types.js').Transfer} transfer */
  function left(transfer) {
    const [share, now] = [transfer.received / transfer.size, performance.now()];
    began ??= [share, now];
    return leftWords(...began, share, now);
  }

  /** @param {boolean} sending */
  function showSending(sending) {
    busy = sending;
    need('#choose', section).hidden = sending;
    need('#sending', section).hidden = !sending;
  }

  /** @param {File} file */
  async function take(file) {
    say('');
    stopped = false;
    last = null;
    bar.value = 0;
    need('#chosen', section).textContent = file.name;
    showSending(true);
    page.show('reading', null);
    try {
      if (begins) match = await newMatch(file);
      const sent = await sendVideo(file, encodeURIComponent(match), page);
      if (sent?.phase === 'done') await leave();
      else await giveUp();
    } catch (error) {
      showSending(false);
      if (error instanceof RefusedError) say(error.words);
      else if (error instanceof NoConnectionError) say('goodlength does not answer. Nothing was begun. Is it still running? Then choose the video again.');
      else if (error instanceof DOMException) say('The browser can no longer read this video. Choose it again.');
      else throw error;
    }
  }

  /** The video is there: save the names that are typed, and show what is done with it. */
  async function leave() {
    busy = false;
    await saveNames();
    location.assign(`/matches/${encodeURIComponent(match)}/prepare`);
  }

  /** The video does not come: no match without it stays, unless something was entered of it. */
  async function giveUp() {
    showSending(false);
    if (stopped) say(WORDS.stopped);
    if (!begins) return;
    await ask(`/api/matches/${encodeURIComponent(match)}/abandon`, { method: 'POST' }).catch(() => null);
    match = '';
  }

  chooser.addEventListener('change', () => {
    const files = [...(chooser.files ?? [])];
    const [file] = files;
    if (!file || busy) return;
    const wrong = notOneVideo(files.map(({ name, type, size }) => ({ name, type, size, folder: false, file: true })));
    chooser.value = '';
    if (wrong) say(wrong);
    else void take(file);
  });

  stop.addEventListener('click', () => {
    stopped = true;
    wake();
    if (last) void ask(`/api/transfers/${last.id}/cancel`, { method: 'POST' }).catch(() => null);
  });

  document.addEventListener('dragover', (event) => {
    if (!event.dataTransfer?.types.includes('Files')) return;
    event.preventDefault();
    over.hidden = false;
  });
  document.addEventListener('dragleave', (event) => {
    if (event.relatedTarget === null) over.hidden = true;
  });
  document.addEventListener('drop', (event) => {
    over.hidden = true;
    if (!event.dataTransfer) return;
    const { dropped, file } = readDrop(event.dataTransfer);
    if (dropped.length === 0) return;
    event.preventDefault();
    if (busy) return;
    const wrong = notOneVideo(dropped);
    if (wrong || !file) say(wrong);
    else void take(file);
    words.scrollIntoView({ block: 'nearest' });
  });
  window.addEventListener('beforeunload', (event) => {
    if (busy) event.preventDefault();
  });
  for (const event of ['online', 'pageshow']) window.addEventListener(event, () => wake());
}

/** Make the match that a video begins; its id. @param {File} file */
async function newMatch(file) {
  const body = { name: file.name, size: file.size, fingerprint: await fingerprint(file) };
  const made = /** @type {import('../server/message-types.js').NewMatch} */ (await ask('/api/new-match-from-video', { body }));
  return made.match;
}
