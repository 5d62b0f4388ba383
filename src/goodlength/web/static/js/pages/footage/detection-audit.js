// @ts-check
/* Twenty detected rallies, one question a card: is it a rally, who hits, does it start here? */

import { ask, failureWords } from '../../lib/server/json-requests.js';
import { clockWords } from '../../lib/page/time-and-score-format.js';
import { el, need } from '../../lib/page/dom.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';

/** @typedef {import('../../lib/server/message-types.js').DetectionReview} DetectionReview @typedef {import('../../lib/server/message-types.js').ReviewCard} ReviewCard */
/** @typedef {'rally' | 'hit' | 'place'} Question */

const LEAD_US = 1_000_000;
const AFTER_US = 600_000;
const AROUND_HIT_US = 700_000;
const AROUND_START_US = 1_200_000;
const TWO_SECONDS = 2_000_000;
const MATCH = `/api/matches/${encodeURIComponent(need('#record').dataset.match ?? '')}`;

const [initial, files] = /** @type {[DetectionReview, import('../../lib/server/message-types.js').Files]} */ (
  await Promise.all([ask(`${MATCH}/review`), ask(`${MATCH}/films`)])
);
let review = initial;
const { short } = review;
/** @type {Record<Question, {words: string, answers: [string, string][]}>} */
const QUESTIONS = {
  rally: { words: 'Is this a rally?', answers: [['yes', 'Yes, a rally'], ['no', 'No, something else'], ['unclear', 'Cannot tell']] },
  hit: { words: 'Who hits the ball here?', answers: [['a', short.a], ['b', short.b], ['nobody', 'Nobody: a wall or the floor'], ['unclear', 'Cannot tell']] },
  place: { words: 'Does the rally start here?', answers: [['right', 'Yes, here'], ['earlier', 'No, earlier'], ['later', 'No, later'], ['unclear', 'Cannot tell']] },
};
const ORDER = /** @type {Question[]} */ (['rally', 'hit', 'place']);

let at = Math.max(0, review.cards.findIndex((card) => !card.done));
let question = openQuestion(review.cards[at]);
let stopAt = Infinity;
const player = new VideoPlayer(need('#frame'), files.parts, moved);
const controls = new PlayerControls(player, {
  match: need('#record').dataset.match ?? '',
  rally: () => review.cards[at] ?? null,
  tell,
  released: () => {
    stopAt = Infinity;
  },
});

/** The first question of a card without an answer. @param {ReviewCard} card @returns {Question} */
function openQuestion(card) {
  if (card.done || card.rally === '') return 'rally';
  return card.hit === '' ? 'hit' : 'place';
}

function draw() {
  const card = review.cards[at];
  const asked = QUESTIONS[question];
  player.spans = review.cards;
  controls.draw();
  need('#which').textContent = `Rally ${at + 1} of ${review.cards.length}, ${clockWords(card.start_us)} to ${clockWords(card.end_us)}`;
  const left = review.cards.filter((one) => !one.done).length;
  need('#left').textContent = left ? `${left} to review` : 'All reviewed';
  need('#question').textContent = asked.words;
  need('#answers').replaceChildren(
    ...asked.answers.map(([value, words], n) =>
      el(
        'li',
        {},
        el('button', { type: 'button', class: card[question] === value ? 'given' : '', onclick: () => void say(value) }, el('kbd', {}, String(n + 1)), words),
      ),
    ),
  );
  need('#words').replaceChildren(...review.words.map((line) => el('p', {}, line)));
  need('#adapt').hidden = !review.can_adapt;
  need('#undo').hidden = !review.adapted;
  need('#rows').replaceChildren(...review.cards.map(row));
  moved();
}

/** @param {ReviewCard} card @param {number} n */
function row(card, n) {
  const open = el('button', { type: 'button', class: 'link', onclick: () => go(n, 'rally') }, String(n + 1));
  return el(
    'tr',
    { class: `${n === at ? 'now' : ''} ${card.rally === 'no' ? 'out' : ''}`.trim(), 'aria-current': n === at ? 'true' : undefined },
    el('th', { scope: 'row' }, open),
    el('td', { class: 'tab' }, `${clockWords(card.start_us)} – ${clockWords(card.end_us)}`),
    el('td', {}, answerWords(card)),
    el('td', {}, card.done ? (card.half === 'random' ? 'at random' : 'least sure') : ''),
  );
}

/** @param {ReviewCard} card */
function answerWords(card) {
  if (card.rally === 'no') return 'not a rally';
  if (card.rally === 'unclear') return 'cannot tell';
  if (!card.done) return card.rally ? 'started' : '';
  if (card.place === 'earlier' || card.place === 'later') return `a rally, starts ${card.place}`;
  return 'a rally';
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
}

let asking = Promise.resolve();

/** Keep an answer, and go on to the next question. @param {string} value */
function say(value) {
  const [card, asked] = [review.cards[at], question];
  asking = asking.then(async () => {
    try {
      review = /** @type {DetectionReview} */ (await ask(`${MATCH}/review/${encodeURIComponent(card.id)}`, { body: { question: asked, answer: value } }));
      forward(asked, value);
    } catch (error) {
      tell(failureWords(error, 'The connection dropped. Nothing was changed; press again.'));
    }
  });
  return asking;
}

/** @param {Question} asked @param {string} value */
function forward(asked, value) {
  const next = ORDER[ORDER.indexOf(asked) + 1];
  if (next && !(asked === 'rally' && value !== 'yes')) return go(at, next);
  const open = review.cards.findIndex((card, n) => n > at && !card.done);
  const any = open >= 0 ? open : review.cards.findIndex((card) => !card.done);
  if (any >= 0) return go(any, openQuestion(review.cards[any]));
  draw();
  return tell('All reviewed. See what it shows beside or below.');
}

/** @param {number} n @param {Question} which */
function go(n, which) {
  at = n;
  question = which;
  tell('');
  again(true);
  draw();
}

/** Play what the question is about. @param {boolean} play */
function again(play) {
  const card = review.cards[at];
  const middle = question === 'hit' ? card.hit_us : card.start_us;
  if (question === 'rally') stopAt = card.end_us + AFTER_US;
  else stopAt = middle + (question === 'hit' ? AROUND_HIT_US : AROUND_START_US) / 2;
  const lead = question === 'rally' ? LEAD_US : question === 'hit' ? AROUND_HIT_US : AROUND_START_US;
  player.seek(Math.max(0, middle - lead), play);
}

function back() {
  const k = ORDER.indexOf(question);
  if (k > 0) go(at, ORDER[k - 1]);
  else if (at > 0) go(at - 1, 'rally');
}

/** @param {number} by */
function skip(by) {
  stopAt = Infinity;
  player.seek(player.nowUs + by);
}

listen({
  ...controls.actions,
  answer: (press) => {
    const chosen = QUESTIONS[question].answers[Number(press) - 1];
    if (chosen) void say(chosen[0]);
  },
  back,
  earlier: () => skip(-TWO_SECONDS),
  later: () => skip(TWO_SECONDS),
  again: () => again(true),
  room: () => toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});

again(false);
draw();
document.documentElement.dataset.ready = 'review';
