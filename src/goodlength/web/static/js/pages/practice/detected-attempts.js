// @ts-check
/* A practice recording: attempt after attempt is played, and marked hit, miss or none. */

import { ask, failureWords, libraryOfPage } from '../../lib/server/json-requests.js';
import { need } from '../../lib/page/dom.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { tableFrom } from '../../lib/video/frame-time-table.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';
import { watch } from '../../lib/server/job-progress.js';

/** @typedef {'hit' | 'miss' | 'none'} Mark */

const TWO_SECONDS = 2_000_000;
const AROUND_US = 3_000_000; // of the timeline before and after the attempt

const main = need('#main');
const player = main.dataset.player ?? '';
const recording = main.dataset.recording ?? '';
const storageKey = `attempts:${libraryOfPage()}:${recording}`;
const WORDS = { hit: 'hit', miss: 'miss', none: 'not an attempt' };
const rows = /** @type {HTMLElement[]} */ ([...document.querySelectorAll('.attempts li')]);

const waiting = /** @type {HTMLElement | null} */ (document.querySelector('[data-job]'));
if (waiting) void watch(waiting, { reload: 'ended' });
else if (rows.length > 0) await mark();
document.documentElement.dataset.ready = 'detected-attempts';

/** The recording in the one player of all pages; of no match, so nothing is drawn on it and nothing lies over it. */
async function makePlayer() {
  const base = `/api/practice/${encodeURIComponent(player)}/recordings/${encodeURIComponent(recording)}`;
  const sent = /** @type {import('../../lib/server/message-types.js').FrameTable | null} */ (await ask(`${base}/frames`).catch(() => null));
  const table = sent && tableFrom(sent);
  const end_us = Math.round(1e6 * (table?.end_s ?? Number(rows[rows.length - 1].dataset.end)));
  const part = { id: recording, url: `${base}/media`, starts_us: 0, first_us: 0, end_us, shift_us: 0 };
  const made = new VideoPlayer(need('#frame'), [part], () => {});
  if (table) made.tables.set(recording, table);
  return made;
}

async function mark() {
  const video = await makePlayer();
  /** @type {(Mark | null)[]} */
  const marks = restored();
  let at = Math.max(0, marks.indexOf(null));
  let stops = true; // where the attempt ends

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

  const us = (/** @type {HTMLElement} */ row, /** @type {'start' | 'strike' | 'end'} */ what) => Math.round(1e6 * Number(row.dataset[what]));
  const span = () => ({ start_us: us(rows[at], 'start'), end_us: us(rows[at], 'end') });

  /** @param {boolean} playing */
  function go(playing) {
    stops = true;
    video.loop = null;
    video.seek(span().start_us, playing);
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

  const controls = new PlayerControls(video, {
    match: '',
    impacts: { rallies: [], impacts: rows.map((row) => ({ us: us(row, 'strike'), what: 'racket' })) },
    rally: span,
    window: () => ({ start_us: Math.max(0, span().start_us - AROUND_US), end_us: Math.min(video.endUs, span().end_us + AROUND_US) }),
    tell: (words) => (need('#state').textContent = words),
    released: () => {
      stops = false;
    },
  });
  video.listeners.add(() => {
    if (video.playing && stops && !video.loop && video.nowUs >= span().end_us) {
      stops = false;
      video.pause();
    }
    need('#trouble').hidden = video.problems.length === 0;
  });
  listen({
    ...controls.actions,
    hit: () => say('hit'),
    miss: () => say('miss'),
    none: () => say('none'),
    back,
    again: () => go(true),
    earlier: () => controls.seek(video.nowUs - TWO_SECONDS),
    later: () => controls.seek(video.nowUs + TWO_SECONDS),
    room: () => void toggleTheme(),
    help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
  });
  need('#done').addEventListener('click', () => void done());
  rows.forEach((row, n) =>
    need('button', row).addEventListener('click', () => {
      at = n;
      go(true);
    }),
  );
  go(false);
}
