// @ts-check
/* The Record page: joins the state (what is said), the player (what is seen) and the drawing of both. */

import { ask } from '../../lib/server/json-requests.js';
import { drawCard } from '../../lib/logging/rally-card.js';
import { RecordCommands } from '../../lib/logging/logging-commands.js';
import { el, need } from '../../lib/page/dom.js';
import { cardView } from '../../lib/logging/rally-card-states.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { drawTimeline, windowOf } from '../../lib/video/rally-timeline.js';
import { drawSheet, focusSheet, moveInSheet } from '../../lib/logging/scoresheet.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { PlaybackSync } from '../../lib/logging/rally-video-sync.js';
import { Clock, VideoPlayer } from '../../lib/video/multi-file-player.js';
import { firstOnPhone, isPhone } from '../../lib/page/phone-order.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { lineWords } from '../../lib/logging/rally-sentence.js';
import { clockWords, count, dayWords, score, tickWords } from '../../lib/page/time-and-score-format.js';

/** @typedef {import('../../lib/logging/optimistic-answers.js').ShownRally} ShownRally @typedef {import('../../lib/video/rally-timeline.js').Span} Span */

const TWO_SECONDS = 2_000_000;
const root = need('#record');
const matchId = root.dataset.match ?? '';
const card = need('#card');
const grid = need('#grid');
const timeline = /** @type {SVGElement} */ (/** @type {unknown} */ (need('#timeline')));
const caption = need('#caption');
const state = need('#state');

/** @type {import('../../lib/logging/rally-card-states.js').ActiveCardView} */
let view;
/** @type {import('../../lib/video/rally-timeline.js').View} */
let timelineView;
let lastTime = 0;

const sheet = /** @type {import('../../lib/server/message-types.js').Sheet} */ (await ask(`/api/matches/${encodeURIComponent(matchId)}/sheet?follow=true`));
const record = new RecordCommands(matchId, sheet, draw);
const player = sheet.parts.length > 0 ? new VideoPlayer(need('#frame'), sheet.parts, timeMoved) : new Clock(sheet.match.day, timeMoved);
record.live = player.live;
record.onLine = ({ waiting }) => {
  document.documentElement.dataset.waiting = String(waiting);
};
record.now = () => (player.problems.length > 0 ? null : player.nowUs);
record.winnerOnly = sheet.match.depth === 'score' && matchMedia('(pointer: coarse)').matches;
const sync = new PlaybackSync(record, player);
const controls =
  player instanceof VideoPlayer
    ? new PlayerControls(player, { match: matchId, rally: () => sync.span, timeline: () => timelineView, tell: (words) => record.tell(words) })
    : null;
record.onOpen = () => sync.show();
record.onLeap = () => sync.settle();

/** @param {ShownRally} rally @returns {rally is ShownRally & {start_us: number, end_us: number}} */
const isTimed = (rally) => rally.start_us !== null && rally.end_us !== null;

// ---- drawing

function draw() {
  document.documentElement.dataset.offer = record.bulk.reading || record.bulk.taking || record.missing.reading ? 'reading' : 'read';
  view = cardView(record);
  drawCard(card, view);
  const rallies = record.rallies;
  const rally = record.rally;
  const listed = rallies.some((one) => one.key === rally.key) || record.isOver ? rallies : [...rallies, rally];
  const inPlay = record.sheet.next?.game ?? rallies[rallies.length - 1]?.game ?? 1;
  drawSheet(grid, {
    sheet: record.sheet,
    rallies: listed,
    openKey: rally.key,
    gameInPlay: inPlay,
    shownGame: record.shownGame ?? (record.isNewest && rally.provisional ? inPlay : rally.game),
    words: (one) => lineWords(record.sheet, one),
    brief: (one) => lineWords(record.sheet, one, true),
    open: openLine,
    show: (game) => {
      record.shownGame = game;
      draw();
    },
  });
  drawAround(rallies);
  drawState();
  drawTime(rallies);
}

/** Words around the sheet: games won, faults, the step in the strip. @param {ShownRally[]} rallies */
function drawAround(rallies) {
  const now = record.sheet;
  need('#games').replaceChildren('Games won: ', el('b', {}, `${now.short.a} ${now.games_won[0]}, ${now.short.b} ${now.games_won[1]}`));
  const first = now.games[0]?.first_server;
  need('#first').textContent = first ? `${now.short[first]} served first` : '';
  const words = record.isOver ? count(rallies.length, 'rally', 'rallies') : `Game ${record.rally.game}, rally ${record.rally.n}`;
  need('#record-state .words').textContent = words;
  const live = document.querySelector('#live-score');
  if (live) live.textContent = now.next ? `${score(now.next.points)}` : now.over_words;
  drawTaken();
  need('#faults').replaceChildren(...(now.faults.length + now.clashes.length + record.missing.questions.length ? [faultList()] : []));
}

/** Rallies taken unwatched, with the one undo of them, whatever is asked. */
function drawTaken() {
  const { takenWords } = record.bulk;
  const line = need('#taken');
  line.hidden = takenWords === '';
  line.replaceChildren(...(takenWords ? [`${takenWords} `, el('button', { type: 'button', class: 'link', onclick: () => void record.bulk.undo() }, 'Undo all of them')] : []));
}

function faultList() {
  const clashing = new Set(record.sheet.clashes.map((clash) => clash.rally));
  const items = record.sheet.faults
    .filter((fault) => !(fault.code === 'two-answers' && clashing.has(fault.key ?? '')))
    .map((fault) =>
      el(
        'li',
        {},
        el('span', {}, fault.words),
        fault.key ? el('button', { type: 'button', class: 'link', onclick: () => record.goTo(String(fault.key).split(':')[0]) }, 'Go there') : null,
      ),
    );
  const clashes = record.sheet.clashes.map((clash) =>
    el(
      'li',
      { class: 'clash' },
      el('span', {}, clash.words),
      ...clash.answers.map((answer) =>
        el('button', { type: 'button', class: 'link', onclick: () => record.settle(clash, answer.value) }, answer.words),
      ),
    ),
  );
  const missing = record.missing.questions.map((question) =>
    el('li', {}, el('span', {}, `A rally may be missing at ${clockWords(question.likely_start_us)}.`), el('button', { type: 'button', class: 'link', onclick: () => record.missing.open(question) }, 'Look')),
  );
  return el('section', { class: 'faults', 'aria-label': 'To check', tabindex: 0 }, el('ul', {}, ...clashes, ...items, ...missing));
}

/** The state line: what is not stored yet comes before everything else. */
function drawState() {
  const { waiting, connected, why } = record.line;
  let words = record.notice;
  if (!connected && waiting > 0) words = `${why ? `${why} ` : ''}${count(waiting, 'answer waits', 'answers wait')} for the connection`;
  const usual = record.sheet.proposed.length ? 'Solid: logged. Outline: not yet' : 'Solid: logged';
  if (state.textContent !== (words || usual)) state.textContent = words || usual;
  state.classList.toggle('strong', Boolean(words));
  state.parentElement?.classList.toggle('has-message', Boolean(words));
  state.parentElement?.classList.toggle('at-length', words.length > 70);
  for (const button of document.querySelectorAll('[data-action="rallies-only"]')) {
    button.setAttribute('aria-pressed', String(player.ralliesOnly));
  }
  for (const button of document.querySelectorAll('.touch [data-action="keep"]')) {
    button.setAttribute('aria-pressed', String(record.rally.keep));
  }
}

/** @param {ShownRally[]} [rallies] */
function drawTime(rallies = record.rallies) {
  const now = player.nowUs;
  if (player.live) caption.textContent = dayWords(now);
  const rally = record.rally;
  const recorded = rallies.filter(isTimed);
  const toCome = record.toCome;
  player.spans = [...recorded, ...toCome].sort((a, b) => a.start_us - b.start_us);
  const inGame = recorded.filter((one) => one.game === rally.game);
  const current = rally.start_us === null ? null : { start_us: rally.start_us, end_us: rally.end_us ?? Math.max(now, rally.start_us) };
  const window = windowOf([...inGame, ...(current ? [current] : [])], now, player.endUs);
  timelineView = { ...window, recorded: recorded.filter((one) => one.key !== rally.key), current, proposed: toCome };
  drawTimeline(timeline, timelineView, player.live ? (us) => dayWords(us).slice(0, 5) : tickWords);
  const scrubWords = `${count(inGame.length, 'rally', 'rallies')} of game ${rally.game} with a time`;
  if (player.live) timeline.setAttribute('aria-label', scrubWords);
  else need('#scrub-bar').setAttribute('aria-label', `Time in the video. ${scrubWords}`);
  controls?.draw();
  drawTrouble();
}

function drawTrouble() {
  const trouble = document.querySelector('#trouble');
  if (!(trouble instanceof HTMLElement)) return;
  trouble.hidden = player.problems.length === 0;
  if (!trouble.hidden && !trouble.textContent) {
    trouble.textContent =
      record.sheet.proxy_words ||
      'This browser cannot play the video. Make a copy on the Footage page. You can keep logging, but without times.';
  }
}

/** A copy that plays may be on its way: once it is there, the page is loaded anew; unsent answers come along. */
async function awaitCopy() {
  if (player.live || player.problems.length === 0) return;
  const found = /** @type {import('../../lib/server/message-types.js').Files | null} */ (await ask(record.path('films')).catch(() => null));
  const urls = (/** @type {{url: string}[]} */ parts) => parts.map((part) => part.url).join(' ');
  if (found && urls(found.parts) !== urls(sheet.parts)) location.reload();
}
setInterval(awaitCopy, 3000);

/** Called while the picture moves: only what changes with time is drawn. */
function timeMoved() {
  const now = player.nowUs;
  if (player.playing && now > lastTime && now - lastTime < TWO_SECONDS) record.furthest = Math.max(record.furthest, now);
  lastTime = now;
  if (view) sync.moved();
  if (timeMoved.asked) return;
  timeMoved.asked = true;
  requestAnimationFrame(() => {
    timeMoved.asked = false;
    if (view) drawTime();
  });
}
timeMoved.asked = false;

// ---- going about

/** Open a line of the sheet and play its rally. @param {string} key */
function openLine(key) {
  record.shownGame = null;
  record.goTo(key, false);
  sync.show({ anew: true, play: true });
  /** @type {HTMLElement | null} */ (card.querySelector('#question, .call'))?.focus(); // Enter goes on from here
  if (record.rally.start_us === null && !player.live && Object.keys(record.rally.answers).length) record.tell('This rally has no time yet: the keys , and . set it.');
}

function serveAgain() {
  if (record.mode === 'missing') return sync.show();
  const start = record.rally.start_us ?? lastStart();
  if (start === null) return record.tell('No rally has a start time yet.');
  return player.seek(start, true);
}

function lastStart() {
  const before = player.spans.filter((span) => span.start_us <= player.nowUs);
  return before.length ? before[before.length - 1].start_us : null;
}

/** @param {1 | -1} way */
function goToNeighbour(way) {
  record.shownGame = null;
  sync.neighbour(way);
}

/** Do what a key says, unless the card has changed by itself a moment ago. @param {() => void} act */
function meant(act) {
  if (!sync.isSettling) return act();
  return record.tell('The video moved to another rally, and the card with it. Press again to answer this one.');
}

function winnerOnly() {
  if (sheet.match.depth !== 'score') return record.tell('Only who won can be asked at the depth Score: see Details.');
  record.winnerOnly = !record.winnerOnly;
  for (const button of document.querySelectorAll('[data-action="winner-only"]')) button.setAttribute('aria-pressed', String(record.winnerOnly));
  record.tell(record.winnerOnly ? 'One press a rally: only who won is asked.' : 'How the rally ended is asked too.');
}

function ralliesOnly() {
  if (player.live) return;
  if (player.spans.length === 0) return record.tell('No rally has a start and end time yet.');
  player.ralliesOnly = !player.ralliesOnly;
  const length = player.spans.reduce((sum, span) => sum + span.end_us - span.start_us, 0);
  record.tell(player.ralliesOnly ? `Rallies only: ${count(player.spans.length, 'rally', 'rallies')}, ${clockWords(length)}` : 'Playing the whole video.');
  if (player.ralliesOnly) player.play();
}

listen({
  ...controls?.actions,
  answer: (press) => meant(() => view.byKey[press]?.()),
  enter: () => meant(() => view.enter()),
  back: () => meant(() => record.stepBack()),
  earlier: () => player.seek(player.nowUs - TWO_SECONDS),
  later: () => player.seek(player.nowUs + TWO_SECONDS),
  'rally-before': () => goToNeighbour(-1),
  'rally-after': () => goToNeighbour(1),
  'serve-again': serveAgain,
  'rallies-only': ralliesOnly,
  'starts-here': () => record.mark('start_us'),
  'ends-here': () => record.mark('end_us'),
  box: () => record.otherBox(),
  'no-rally': () => meant(() => (record.mode === 'missing' ? record.missing.none() : record.noRally())),
  note: () => record.turn('note'),
  keep: () => record.keep(),
  called: () => record.turn('called'),
  go: () => focusSheet(grid),
  'winner-only': winnerOnly,
  room: () => toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});

grid.addEventListener('keydown', (event) => {
  const by = { ArrowUp: -1, ArrowDown: 1, PageUp: -10, PageDown: 10 }[event.key];
  if (event.key === 'Escape') /** @type {HTMLElement} */ (document.activeElement)?.blur();
  if (by === undefined) return;
  event.preventDefault();
  moveInSheet(grid, by);
});
/** What the ball's path proposes comes after the sheet: no answer waits for it. */
async function readPaths() {
  const found = /** @type {import('../../lib/server/message-types.js').PathProposals | null} */ (await ask(record.path('proposals')).catch(() => null));
  if (found) {
    record.fromPaths = found.rallies;
    draw();
    if (found.rallies.length > 0 || record.rallies.some((rally) => rally.unwatched)) await record.bulk.read();
    record.bulk.begin();
  }
  if (record.bulk.offer.state === 'none') await record.missing.read();
  document.documentElement.dataset.proposals = 'read';
}

addEventListener('focus', () => record.refresh());
addEventListener('pageshow', (event) => event.persisted && record.refresh());

draw();
await record.open();
void readPaths();
firstOnPhone(card, need('.below-video'), () => record.onChange());
if (isPhone() && !player.live) root.scrollIntoView(); // the picture and the question in one view
document.documentElement.dataset.ready = 'record';
