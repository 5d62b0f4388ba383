// @ts-check
/* Looking through the rallies heard: each is played, and one key says who serves from where, or that it is none.
   Nothing here is recorded. */

import { ask, failureWords } from '../../lib/server/json-requests.js';
import { el, need } from '../../lib/page/dom.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { drawTimeline, windowOf } from '../../lib/video/rally-timeline.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { clockWords, count, tickWords } from '../../lib/page/time-and-score-format.js';

/** @typedef {import('../../lib/server/message-types.js').DetectedRally} DetectedRally @typedef {import('../../lib/server/message-types.js').DetectedRallies} DetectedRallies */
/** @typedef {import('../../lib/server/message-types.js').CorrectionIn} CorrectionIn */

const LEAD_US = 1_000_000;
const AFTER_US = 600_000;
const MISSED_US = 5_000_000;
const TWO_SECONDS = 2_000_000;
const AROUND = 7;
const main = need('#record');
const MATCH = `/api/matches/${encodeURIComponent(main.dataset.match ?? '')}`;
const timeline = /** @type {SVGElement} */ (/** @type {unknown} */ (need('#timeline')));

const [found, files] = /** @type {[DetectedRallies, import('../../lib/server/message-types.js').Files]} */ (
  await Promise.all([ask(`${MATCH}/heard`), ask(`${MATCH}/films`)])
);
let { rallies } = found;
const { short } = found;
/** @type {{words: string, correction: {state: 'kept' | 'out', seen: string}}[]} */
const ANSWERS = [
  { words: `${short.a}, right box`, correction: { state: 'kept', seen: 'a-right' } },
  { words: `${short.a}, left box`, correction: { state: 'kept', seen: 'a-left' } },
  { words: `${short.b}, right box`, correction: { state: 'kept', seen: 'b-right' } },
  { words: `${short.b}, left box`, correction: { state: 'kept', seen: 'b-left' } },
  { words: 'A rally, but server unclear', correction: { state: 'kept', seen: '' } },
  { words: 'Not a rally', correction: { state: 'out', seen: '' } },
];
let at = Math.max(0, rallies.findIndex((one) => one.state === ''));
let stopAt = Infinity;
/** @type {import('../../lib/video/rally-timeline.js').View} */
let view;
const player = new VideoPlayer(need('#frame'), files.parts, moved);
const controls = new PlayerControls(player, {
  match: main.dataset.match ?? '',
  rally: () => rallies[at] ?? null,
  timeline: () => view,
  tell,
  released: () => {
    stopAt = Infinity;
  },
});

// ---- drawing

function draw() {
  const rally = rallies[at];
  const doubtful = rallies.filter((one) => one.doubtful && one.state === '').length;
  const left = rallies.filter((one) => one.state === '').length;
  need('#which').textContent = `Rally ${at + 1} of ${rallies.length}, ${aboutWords(rally)}`;
  need('#left').textContent = left ? `${left} to check, ${doubtful} doubtful` : 'All checked';
  need('#count').textContent = count(rallies.filter((one) => one.state !== 'out').length, 'rally', 'rallies');
  need('#answers').replaceChildren(
    ...ANSWERS.map((answer, n) =>
      el(
        'li',
        {},
        el(
          'button',
          { type: 'button', class: given(rally, answer.correction) ? 'given' : '', onclick: () => void say(answer.correction) },
          el('kbd', {}, String(n + 1)),
          answer.words,
        ),
      ),
    ),
  );
  need('#rows').replaceChildren(...rallies.map(row));
  need('#rows tr.now').scrollIntoView({ block: 'nearest' });
  drawTime();
}

/** @param {DetectedRally} rally @param {{state: string, seen: string}} correction */
const given = (rally, correction) => rally.state === correction.state && (correction.state === 'out' || rally.seen === correction.seen);

/** @param {DetectedRally} rally */
function aboutWords(rally) {
  const hits = rally.hits_us.length ? `, ${count(rally.hits_us.length, 'hit', 'hits')}` : '';
  const uncertainty = rally.doubtful ? `. Doubtful: ${rally.why}` : '';
  return `${clockWords(rally.start_us)} to ${clockWords(rally.end_us)}${hits}${uncertainty}`;
}

/** @param {DetectedRally} rally @param {number} n */
function row(rally, n) {
  const open = el('button', { type: 'button', class: 'link', onclick: () => go(n, true) }, String(n + 1));
  return el(
    'tr',
    { class: `${n === at ? 'now' : ''} ${rally.state}`.trim(), 'aria-current': n === at ? 'true' : undefined },
    el('th', { scope: 'row' }, open),
    el('td', { class: 'tab' }, `${clockWords(rally.start_us)} – ${clockWords(rally.end_us)}`),
    el('td', { class: 'tab' }, rally.hits_us.length ? String(rally.hits_us.length) : '–'),
    el('td', {}, el('span', { class: rally.doubtful && !rally.state ? 'doubtful' : '' }, stateWords(rally))),
  );
}

/** @param {DetectedRally} rally */
function stateWords(rally) {
  if (rally.state === 'out') return 'not a rally';
  const shown = ANSWERS.find((one) => rally.seen && one.correction.seen === rally.seen);
  if (shown) return shown.words;
  if (rally.state === 'kept') return rally.id.startsWith('own-') ? 'added by you' : 'accepted';
  return rally.doubtful ? rally.why || 'doubtful' : '';
}

function drawTime() {
  const now = player.nowUs;
  const around = rallies.slice(Math.max(0, at - AROUND), at + AROUND + 1);
  const rest = rallies.filter((one, n) => n !== at && one.state !== 'out');
  view = {
    ...windowOf(around, Math.min(Math.max(now, around[0].start_us), around[around.length - 1].end_us), player.endUs),
    recorded: rest.filter((one) => one.state === 'kept'),
    proposed: rest.filter((one) => one.state === ''),
    current: rallies[at],
  };
  drawTimeline(timeline, view, tickWords);
  need('#scrub-bar').setAttribute('aria-label', `Time in the video. Rally ${at + 1} of ${rallies.length} among its neighbours`);
  controls.draw();
  need('#trouble').hidden = player.problems.length === 0;
}

function moved() {
  if (!view) return;
  if (player.playing && player.nowUs >= stopAt) {
    stopAt = Infinity;
    player.pause();
  }
  drawTime();
}

const USUAL = 'Solid: accepted. Dashed: doubtful';

/** @param {string} words */
function tell(words) {
  const state = need('#state');
  state.textContent = words;
  state.classList.toggle('strong', words !== USUAL);
  state.parentElement?.classList.toggle('has-message', words !== USUAL);
  state.parentElement?.classList.toggle('at-length', words.length > 70);
}

// ---- saying

/** Keep what is said of the rally in hand, and go on. @param {CorrectionIn} correction */
async function say(correction) {
  if (await keep(correction)) go(Math.min(at + 1, rallies.length - 1), true);
}

let asking = Promise.resolve();

/** One correction after the other. @param {CorrectionIn} correction @returns {Promise<boolean>} */
function keep(correction) {
  const rally = rallies[at];
  const saving = asking.then(async () => {
    try {
      const answer = /** @type {DetectedRallies} */ (await ask(`${MATCH}/heard/${encodeURIComponent(rally.id)}`, { body: correction }));
      take(answer.rallies, rallies[at].id);
      return true;
    } catch (error) {
      tell(failureWords(error, 'The connection dropped. Nothing was changed; press again.'));
      return false;
    }
  });
  asking = saving.then(() => undefined);
  return saving;
}

/** @param {DetectedRally[]} anew @param {string} id the rally in hand */
function take(anew, id) {
  rallies = anew;
  at = Math.max(0, rallies.findIndex((one) => one.id === id));
  draw();
}

/** @param {'start_us' | 'end_us'} which */
async function border(which) {
  const now = player.nowUs;
  if (await keep({ [which]: now, state: 'kept' })) tell(which === 'start_us' ? `It starts at ${clockWords(now)}.` : `It ends at ${clockWords(now)}.`);
}

async function missed() {
  const start = player.nowUs;
  const before = new Set(rallies.map((one) => one.id));
  try {
    const body = { start_us: start, end_us: Math.min(start + MISSED_US, player.endUs) };
    const answer = /** @type {DetectedRallies} */ (await ask(`${MATCH}/heard`, { body }));
    take(answer.rallies, answer.rallies.find((one) => !before.has(one.id))?.id ?? '');
    tell('Rally added here, five seconds long. Keys , and . set its start and end.');
  } catch (error) {
    tell(failureWords(error, 'The connection dropped. Nothing was added.'));
  }
}

// ---- going about

/** @param {number} n @param {boolean} play */
function go(n, play) {
  at = n;
  tell(USUAL);
  again(play);
  draw();
}

function again(play = true) {
  const rally = rallies[at];
  stopAt = rally.end_us + AFTER_US;
  player.seek(Math.max(0, rally.start_us - LEAD_US), play);
}

function nextDoubtful() {
  const open = (/** @type {DetectedRally} */ one) => one.doubtful && one.state === '';
  const next = rallies.findIndex((one, n) => n > at && open(one));
  const any = next >= 0 ? next : rallies.findIndex(open);
  if (any < 0) return tell('No doubtful rallies left.');
  return go(any, true);
}

/** @param {number} by */
function skip(by) {
  stopAt = Infinity;
  player.seek(player.nowUs + by);
}

listen({
  ...controls.actions,
  answer: (press) => void say(ANSWERS[Number(press) - 1].correction),
  enter: () => void say({ state: 'kept' }),
  back: () => go(Math.max(0, at - 1), true),
  earlier: () => skip(-TWO_SECONDS),
  later: () => skip(TWO_SECONDS),
  'rally-before': () => go(Math.max(0, at - 1), true),
  'rally-after': () => go(Math.min(at + 1, rallies.length - 1), true),
  again: () => again(),
  doubtful: nextDoubtful,
  'starts-here': () => void border('start_us'),
  'ends-here': () => void border('end_us'),
  missed: () => void missed(),
  room: () => toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});

go(at, false);
document.documentElement.dataset.ready = 'rallies';
