// @ts-check
/* The draft of the marker's sheet: doubtful rallies first, one key each; then it is written as a whole. */

import { ask, failureWords } from '../../lib/server/json-requests.js';
import { proposedWords } from '../../lib/logging/draft-words.js';
import { el, need } from '../../lib/page/dom.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { clockWords, count } from '../../lib/page/time-and-score-format.js';

/** @typedef {import('../../lib/server/message-types.js').Draft} Draft @typedef {import('../../lib/server/message-types.js').DraftRally} DraftRally */

const LEAD_S = 1;
const AFTER_S = 4; // what follows a rally often tells who won it
const main = need('#record');
const MATCH = `/api/matches/${encodeURIComponent(main.dataset.match ?? '')}`;
const files = /** @type {import('../../lib/server/message-types.js').Files} */ (await ask(`${MATCH}/films`));
let draft = /** @type {Draft} */ (await ask(`${MATCH}/draft`, { body: {} }));
let at = 0;
let stopAt = Infinity;
const player = new VideoPlayer(need('#frame'), files.parts, moved);
const controls = new PlayerControls(player, {
  match: need('#record').dataset.match ?? '',
  rally: () => (draft.rallies[at] ? spanOf(draft.rallies[at]) : null),
  tell,
  released: () => {
    stopAt = Infinity;
  },
});

/** @param {DraftRally} rally */
function spanOf(rally) {
  return { start_us: Math.round(rally.start_s * 1e6), end_us: Math.round(rally.end_s * 1e6) };
}

const ANSWERS = [
  { words: () => draft.short.a, correction: { told: 'a' } },
  { words: () => draft.short.b, correction: { told: 'b' } },
  { words: () => 'A let: no point', correction: { told: 'let' } },
  { words: () => 'Not a rally', correction: { told: '', state: 'out' } },
];

// ---- drawing

function draw() {
  const rally = draft.rallies[at];
  player.spans = draft.rallies.map(spanOf);
  controls.draw();
  need('#words').textContent = draft.words;
  need('#hints').hidden = !rally;
  /** @type {HTMLButtonElement} */ (need('#write')).disabled = draft.rallies.length === 0;
  for (const part of ['#servers', '#scores', '#rally-list', '#draft-note', '#write']) need(part).hidden = !rally;
  need('#take-back').hidden = draft.written === 0;
  need('#to-record').hidden = Boolean(rally);
  need('#left').textContent = rally ? (draft.first.length ? `${count(draft.first.length, 'doubtful one', 'doubtful ones')} left` : 'None doubtful') : '';
  need('#which').textContent = rally ? `Rally ${at + 1} of ${draft.rallies.length}, ${scoreWords(rally)}, ${clockWords(rally.start_s * 1e6)}. Proposed: ${proposedWords(rally, draft.short)}` : '';
  need('#ask').textContent = rally ? 'Who won the rally?' : draft.written ? 'The draft is on the sheet' : 'Nothing to draft';
  need('#answers').replaceChildren(
    ...(rally ? ANSWERS : []).map((answer, n) =>
      el(
        'li',
        {},
        el(
          'button',
          { type: 'button', class: rally.told !== '' && answer.correction.told === rally.told ? 'given' : '', onclick: () => void say(answer.correction) },
          el('kbd', {}, String(n + 1)),
          answer.words(),
        ),
      ),
    ),
  );
  need('#rows').replaceChildren(...draft.rallies.flatMap((one, n) => [row(one, n), ...lostAfter(one.id)]));
  document.querySelector('#rows tr.now')?.scrollIntoView({ block: 'nearest' });
}

/** The words of the steps above the page, once the sheet has changed. */
function drawSteps() {
  for (const step of draft.steps ?? []) {
    const words = document.querySelector(`[data-step="${step.name}"] .words`);
    if (words) words.textContent = step.words;
  }
}

/** @param {DraftRally} rally */
const scoreWords = (rally) => `game ${rally.game}, ${rally.before[0]}–${rally.before[1]}`;

/** @param {DraftRally} rally @param {number} n */
function row(rally, n) {
  const open = el('button', { type: 'button', class: 'link', onclick: () => go(n, true) }, String(n + 1));
  return el(
    'tr',
    { class: n === at ? 'now' : '', 'aria-current': n === at ? 'true' : undefined },
    el('th', { scope: 'row' }, open),
    el('td', {}, scoreWords(rally)),
    el('td', {}, `${draft.short[rally.server]}, ${rally.box} box`),
    el('td', {}, el('span', { class: rally.offered ? '' : 'doubtful' }, proposedWords(rally, draft.short))),
  );
}

/** @param {string} id */
function lostAfter(id) {
  return draft.lost
    .filter((one) => one.after === id)
    .map((one) =>
      el('tr', {}, el('th', { scope: 'row' }, '–'), el('td', {}, `game ${one.game}, ${one.before[0]}–${one.before[1]}`), el('td', {}, 'not detected'), el('td', {}, `${draft.short[one.winner]}: the score needs it`)),
    );
}

function moved() {
  need('#trouble').hidden = player.problems.length === 0;
  if (player.playing && player.nowUs >= stopAt) {
    stopAt = Infinity;
    player.pause();
  }
}

/** @param {string} words */
function tell(words) {
  const state = need('#state');
  state.textContent = words;
  state.classList.toggle('strong', words !== '');
  state.parentElement?.classList.toggle('has-message', words !== '');
  state.parentElement?.classList.toggle('at-length', words.length > 70);
}

// ---- saying

let asking = Promise.resolve();

/** One after the other. @param {string} path @param {object} body @param {() => void} after */
function send(path, body, after) {
  asking = asking.then(async () => {
    try {
      draft = /** @type {Draft} */ (await ask(`${MATCH}/${path}`, { body }));
      tell('');
      after();
    } catch (error) {
      tell(failureWords(error, 'The connection dropped. Nothing was changed; press again.'));
    }
  });
  return asking;
}

/** @param {{told: string, state?: string}} correction */
async function say(correction) {
  const rally = draft.rallies[at];
  if (rally) await send('draft', { rally: rally.id, ...correction }, toDoubtful);
}

function asProposed() {
  const rally = draft.rallies[at];
  if (!rally) return;
  if (rally.offered) return toNext();
  if (rally.winner === null) return tell('No winner is suggested. Choose a let (3) or not a rally (4).');
  return void say({ told: rally.winner });
}

function write() {
  if (draft.rallies.length === 0) return;
  const left = draft.first.length;
  void send('draft/accept', {}, () => {
    at = 0;
    draw();
    drawSteps();
    tell(left ? `Added to the sheet. Record asks you to confirm ${count(left, 'doubtful winner', 'doubtful winners')}.` : 'Added to the sheet.');
  });
}

// ---- going about

/** @param {number} n @param {boolean} play */
function go(n, play) {
  at = Math.max(0, Math.min(n, draft.rallies.length - 1));
  again(play);
  draw();
}

function again(play = true) {
  const rally = draft.rallies[at];
  if (!rally) return;
  stopAt = (rally.end_s + AFTER_S) * 1e6;
  player.seek(Math.max(0, (rally.start_s - LEAD_S) * 1e6), play);
}

/** To the most doubtful rally; on from here where none is. */
function toDoubtful() {
  if (draft.first.length === 0) return draw();
  return go(draft.rallies.findIndex((one) => one.id === draft.first[0]), true);
}

const toNext = () => go(at + 1, true);

/** @param {number} by */
function skip(by) {
  stopAt = Infinity;
  player.seek(player.nowUs + by);
}

listen({
  ...controls.actions,
  answer: (press) => void say(ANSWERS[Number(press) - 1].correction),
  enter: asProposed,
  back: () => go(at - 1, true),
  earlier: () => skip(-2_000_000),
  later: () => skip(2_000_000),
  'rally-before': () => go(at - 1, true),
  'rally-after': toNext,
  again: () => again(),
  write,
  room: () => toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});
need('#scores').addEventListener('submit', (event) => {
  event.preventDefault();
  const scores = /** @type {HTMLInputElement} */ (need('#f-scores')).value;
  void send('draft', { scores }, toDoubtful);
});
need('#take-back').addEventListener('click', () => void send('draft/take-back', {}, () => {
    go(0, false);
    drawSteps();
  }));

const first = draft.rallies.findIndex((one) => one.id === draft.first[0]);
go(Math.max(0, first), false);
document.documentElement.dataset.ready = 'draft';
