// @ts-check
/* A practice recording: attempt after attempt is played, and marked hit, miss or none. */

import { ask, failureWords } from '../../lib/server/json-requests.js';
import { need } from '../../lib/page/dom.js';
import { clockWords } from '../../lib/page/time-and-score-format.js';
import { watch } from '../../lib/server/job-progress.js';

/** @typedef {'hit' | 'miss' | 'none'} Mark */

const main = need('#main');
const player = main.dataset.player ?? '';
const recording = main.dataset.recording ?? '';
const storageKey = `attempts:${recording}`;
const WORDS = { hit: 'hit', miss: 'miss', none: 'not an attempt' };
const rows = /** @type {HTMLElement[]} */ ([...document.querySelectorAll('.attempts li')]);

const waiting = /** @type {HTMLElement | null} */ (document.querySelector('[data-job]'));
if (waiting) void watch(waiting, { reload: 'ended' });
else if (rows.length > 0) mark();
document.documentElement.dataset.ready = 'detected-attempts';

function mark() {
  const video = /** @type {HTMLVideoElement} */ (need('#frame video'));
  /** @type {(Mark | null)[]} */
  const marks = restored();
  let at = Math.max(0, marks.indexOf(null));
  let slow = false;

  /** @returns {(Mark | null)[]} what was marked before a reload */
  function restored() {
    const none = rows.map(() => null);
    try {
      const read = JSON.parse(sessionStorage.getItem(storageKey) ?? '[]');
      return Array.isArray(read) && read.length === rows.length ? read.map((one) => (one in WORDS ? one : null)) : none;
    } catch {
      return none;
    }
  }

  const start = () => Number(rows[at].dataset.start);
  const end = () => Number(rows[at].dataset.end);

  /** @param {boolean} playing */
  function go(playing) {
    video.currentTime = start();
    if (playing) void video.play().catch(() => {});
    show();
  }

  function show() {
    rows.forEach((row, n) => {
      row.classList.toggle('playing', n === at);
      const given = marks[n];
      need('.mark', row).textContent = given ? WORDS[given] : '';
      if (n === at) row.setAttribute('aria-current', 'true');
      else row.removeAttribute('aria-current');
    });
    const of = (/** @type {Mark} */ what) => marks.filter((one) => one === what).length;
    const left = marks.filter((one) => one === null).length;
    need('#hits').textContent = String(of('hit'));
    need('#count').textContent = String(of('hit') + of('miss'));
    need('#left').textContent = left === 0 ? 'all marked' : `${left} to mark`;
    /** @type {HTMLButtonElement} */ (need('#done')).disabled = 'logged' in main.dataset || left > 0 || of('hit') + of('miss') === 0;
    try {
      sessionStorage.setItem(storageKey, JSON.stringify(marks));
    } catch {
      // a browser that keeps nothing still marks: only a reload would lose it
    }
  }

  /** @param {Mark} what */
  function say(what) {
    marks[at] = what;
    const next = marks.indexOf(null, at + 1);
    const any = next >= 0 ? next : marks.indexOf(null);
    if (any >= 0) at = any;
    else video.pause();
    if (any >= 0) go(true);
    else show();
    rows[at].scrollIntoView({ block: 'nearest' });
  }

  function back() {
    at = Math.max(0, at - 1);
    marks[at] = null;
    go(true);
  }

  function turnSlow() {
    slow = !slow;
    video.playbackRate = slow ? 0.5 : 1;
    need('#slow').setAttribute('aria-pressed', String(slow));
  }

  async function done() {
    const order = /** @type {HTMLInputElement | null} */ (document.querySelector('input[name="order"]:checked'));
    const loggedWords = need('#logged-words');
    /** @type {import('../../lib/server/message-types.js').SetIn} */
    const set = {
      id: main.dataset.set ?? '',
      drill: main.dataset.drill ?? '',
      hits: marks.filter((one) => one === 'hit').length,
      attempts: marks.filter((one) => one === 'hit' || one === 'miss').length,
      order: order?.value ?? 'blocked',
      on: /** @type {HTMLInputElement} */ (need('#f-on')).value,
    };
    try {
      const answer = /** @type {import('../../lib/server/message-types.js').SetsStored} */ (
        await ask(`/api/practice/${encodeURIComponent(player)}/sets`, { body: { sets: [set] } })
      );
      main.dataset.logged = '1';
      show();
      loggedWords.textContent = `Logged: ${set.hits} of ${set.attempts}. ${answer.words[set.drill] ?? ''}`;
    } catch (error) {
      loggedWords.textContent = failureWords(error, 'The connection dropped. Press “Finish set” again; it counts once.');
    }
  }

  video.addEventListener('timeupdate', () => {
    need('#caption').textContent = clockWords(Math.round(video.currentTime * 1e6));
    if (video.currentTime >= end() && !video.paused) video.pause();
  });
  video.addEventListener('error', () => {
    need('#trouble').hidden = false;
  });
  const doings = {
    hit: () => say('hit'),
    miss: () => say('miss'),
    none: () => say('none'),
    back,
    again: () => go(true),
    slow: turnSlow,
    done: () => void done(),
  };
  for (const [id, doing] of Object.entries(doings)) need(`#${id}`).addEventListener('click', doing);
  rows.forEach((row, n) =>
    need('button', row).addEventListener('click', () => {
      at = n;
      go(true);
    }),
  );
  const keys = { h: doings.hit, m: doings.miss, x: doings.none, s: doings.slow, arrowleft: doings.back };
  document.addEventListener('keydown', (event) => {
    const target = /** @type {HTMLElement} */ (event.target);
    if (event.ctrlKey || event.metaKey || event.altKey || target.matches('input, select, textarea')) return;
    const key = event.key.toLowerCase();
    const doing = key === ' ' && !target.matches('button, a') ? doings.again : keys[/** @type {keyof typeof keys} */ (key)];
    if (!doing) return;
    event.preventDefault();
    doing();
  });
  go(false);
}
