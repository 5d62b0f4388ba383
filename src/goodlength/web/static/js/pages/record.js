// @ts-check
/* The Record page: joins the desk (what is said), the player (what is seen) and the drawing of both. */

import { ask } from './api.js';
import { drawCard } from './card.js';
import { Desk } from './desk.js';
import { el, need } from './dom.js';
import { faceOf } from './faces.js';
import { listen } from './keys.js';
import { drawLane, windowOf } from './lane.js';
import { drawSheet, focusSheet, moveInSheet } from './marker.js';
import { Pairing } from './pairing.js';
import { Clock, Player } from './player.js';
import { changeRoom } from './room.js';
import { lineWords } from './sentence.js';
import { clockWords, count, dayWords, score } from './words.js';

/** @typedef {import('./types.js').Rally} Rally @typedef {import('./lane.js').Span} Span */

const TWO_SECONDS = 2_000_000;
const root = need('#record');
const matchId = root.dataset.match ?? '';
const card = need('#card');
const grid = need('#grid');
const lane = /** @type {SVGElement} */ (/** @type {unknown} */ (need('#lane')));
const caption = need('#caption');
const state = need('#state');

/** @type {import('./faces.js').Ready} */
let face;
/** @type {import('./lane.js').View} */
let laneView;
let lastTime = 0;

const sheet = await ask(`/api/matches/${encodeURIComponent(matchId)}/sheet`);
const desk = new Desk(matchId, sheet, draw);
const player = sheet.parts.length > 0 ? new Player(need('#frame'), sheet.parts, timeMoved) : new Clock(sheet.match.day, timeMoved);
desk.live = player.live;
desk.onLine = ({ waiting }) => {
  document.documentElement.dataset.waiting = String(waiting);
};
desk.now = () => (player.problems.length > 0 ? null : player.nowUs);
const pairing = new Pairing(desk, player);
desk.onOpen = () => pairing.show();
const timeWords = player.live ? dayWords : clockWords;

/** @param {Rally} rally @returns {rally is Rally & {start_us: number, end_us: number}} */
const isTimed = (rally) => rally.start_us !== null && rally.end_us !== null;

// ---- drawing

function draw() {
  face = faceOf(desk);
  drawCard(card, face);
  const rallies = desk.rallies;
  const rally = desk.rally;
  const listed = rallies.some((one) => one.key === rally.key) || desk.isOver ? rallies : [...rallies, rally];
  const inPlay = desk.sheet.next?.game ?? rallies[rallies.length - 1]?.game ?? 1;
  drawSheet(grid, {
    sheet: desk.sheet,
    rallies: listed,
    openKey: rally.key,
    gameInPlay: inPlay,
    shownGame: desk.shownGame ?? (desk.isNewest && rally.provisional ? inPlay : rally.game),
    words: (one) => lineWords(desk.sheet, one),
    open: openLine,
    show: (game) => {
      desk.shownGame = game;
      draw();
    },
  });
  drawAround(rallies);
  drawState();
  drawTime(rallies);
}

/** Words around the sheet: games won, faults, the step in the strip. @param {Rally[]} rallies */
function drawAround(rallies) {
  const { sheet: said } = desk;
  need('#games').replaceChildren('Games ', el('b', {}, score(said.games_won)));
  const first = said.games[0]?.first_server;
  need('#first').textContent = first ? `${said.short[first]} served first` : '';
  const words = desk.isOver ? count(rallies.length, 'rally', 'rallies') : `Game ${desk.rally.game}, rally ${desk.rally.n}`;
  need('#record-state .words').textContent = words;
  const live = document.querySelector('#live-score');
  if (live) live.textContent = said.next ? `${score(said.next.points)}` : said.over_words;
  need('#faults').replaceChildren(...(said.faults.length + said.clashes.length ? [faultList()] : []));
}

function faultList() {
  const clashing = new Set(desk.sheet.clashes.map((clash) => clash.rally));
  const items = desk.sheet.faults
    .filter((fault) => !(fault.code === 'two-answers' && clashing.has(fault.key ?? '')))
    .map((fault) =>
      el(
        'li',
        {},
        el('span', {}, fault.words),
        fault.key ? el('button', { type: 'button', class: 'link', onclick: () => desk.goTo(String(fault.key).split(':')[0]) }, 'Go there') : null,
      ),
    );
  const clashes = desk.sheet.clashes.map((clash) =>
    el(
      'li',
      { class: 'clash' },
      el('span', {}, clash.words),
      ...clash.answers.map((answer) =>
        el('button', { type: 'button', class: 'link', onclick: () => desk.settle(clash, answer.value) }, answer.words),
      ),
    ),
  );
  return el('section', { class: 'faults', 'aria-label': 'To look at', tabindex: 0 }, el('ul', {}, ...clashes, ...items));
}

/** The state line: what is not stored yet comes before everything else. */
function drawState() {
  const { waiting, connected, why } = desk.line;
  let words = desk.notice;
  if (!connected && waiting > 0) words = `${why ? `${why} ` : ''}${count(waiting, 'answer waits', 'answers wait')} for the connection`;
  const usual = desk.sheet.proposed.length ? 'Hollow: heard, to come' : 'Solid: recorded';
  if (state.textContent !== (words || usual)) state.textContent = words || usual;
  state.classList.toggle('strong', Boolean(words));
  state.parentElement?.classList.toggle('telling', Boolean(words));
  state.parentElement?.classList.toggle('at-length', words.length > 70);
  for (const button of document.querySelectorAll('[data-action="rallies-only"]')) {
    button.setAttribute('aria-pressed', String(player.ralliesOnly));
  }
  for (const button of document.querySelectorAll('.touch [data-action="keep"]')) {
    button.setAttribute('aria-pressed', String(desk.rally.keep));
  }
}

/** @param {Rally[]} [rallies] */
function drawTime(rallies = desk.rallies) {
  const now = player.nowUs;
  caption.textContent = timeWords(now) + player.speedWords;
  const rally = desk.rally;
  const recorded = rallies.filter(isTimed);
  const toCome = desk.toCome;
  player.spans = [...recorded, ...toCome].sort((a, b) => a.start_us - b.start_us);
  const inGame = recorded.filter((one) => one.game === rally.game);
  const current = rally.start_us === null ? null : { start_us: rally.start_us, end_us: rally.end_us ?? Math.max(now, rally.start_us) };
  const window = windowOf([...inGame, ...(current ? [current] : [])], now, player.endUs);
  laneView = { ...window, recorded: recorded.filter((one) => one.key !== rally.key), current, proposed: toCome };
  drawLane(lane, laneView, player.live ? (us) => dayWords(us).slice(0, 5) : laneWords);
  lane.setAttribute('aria-label', `${count(inGame.length, 'rally', 'rallies')} of game ${rally.game} with a time`);
  drawTrouble();
}

/** @param {number} us */
const laneWords = (us) => (us % 60e6 === 0 ? `${us / 60e6} min` : clockWords(us).replace(/\.0$/, ''));

function drawTrouble() {
  const trouble = document.querySelector('#trouble');
  if (!(trouble instanceof HTMLElement)) return;
  trouble.hidden = player.problems.length === 0;
  if (!trouble.hidden && !trouble.textContent) {
    trouble.textContent =
      desk.sheet.proxy_words ||
      'This browser cannot play the file. The page Footage can make a copy that it plays; recording goes on meanwhile, without times.';
  }
}

/** A copy that plays may be on its way: once it is there, the page is loaded anew; unsent answers come along. */
async function awaitCopy() {
  if (player.live || player.problems.length === 0) return;
  const found = await ask(desk.path('films')).catch(() => null);
  const urls = (/** @type {{url: string}[]} */ parts) => parts.map((part) => part.url).join(' ');
  if (found && urls(found.parts) !== urls(sheet.parts)) location.reload();
}
setInterval(awaitCopy, 3000);

/** Called while the picture moves: only what changes with time is drawn. */
function timeMoved() {
  const now = player.nowUs;
  if (player.playing && now > lastTime && now - lastTime < TWO_SECONDS) desk.furthest = Math.max(desk.furthest, now);
  lastTime = now;
  if (face) pairing.moved();
  if (timeMoved.asked) return;
  timeMoved.asked = true;
  requestAnimationFrame(() => {
    timeMoved.asked = false;
    if (face) drawTime();
  });
}
timeMoved.asked = false;

// ---- going about

/** Open a line of the sheet and play its rally. @param {string} key */
function openLine(key) {
  desk.shownGame = null;
  desk.goTo(key, false);
  pairing.show({ anew: true, play: true });
  /** @type {HTMLElement | null} */ (card.querySelector('#question, .call'))?.focus(); // Enter goes on from here
  if (desk.rally.start_us === null && !player.live && Object.keys(desk.rally.answers).length) desk.tell('This rally has no time yet: the keys , and . set it.');
}

function serveAgain() {
  const start = desk.rally.start_us ?? lastStart();
  if (start === null) return desk.tell('No rally has a start yet.');
  return player.seek(start, true);
}

function lastStart() {
  const before = player.spans.filter((span) => span.start_us <= player.nowUs);
  return before.length ? before[before.length - 1].start_us : null;
}

/** @param {1 | -1} way */
function goBeside(way) {
  desk.shownGame = null;
  pairing.neighbour(way);
}

/** Do what a key says, unless the card has changed by itself a moment ago. @param {() => void} act */
function meant(act) {
  if (!pairing.isSettling) return act();
  return desk.tell('The picture went on to another rally, and the card with it: press again to answer this one.');
}

function ralliesOnly() {
  if (player.live) return;
  if (player.spans.length === 0) return desk.tell('No rally has a start and an end yet.');
  player.ralliesOnly = !player.ralliesOnly;
  const length = player.spans.reduce((sum, span) => sum + span.end_us - span.start_us, 0);
  desk.tell(player.ralliesOnly ? `Rallies only: ${count(player.spans.length, 'rally', 'rallies')}, ${clockWords(length)}` : 'The whole recording plays.');
  if (player.ralliesOnly) player.play();
}

listen({
  answer: (press) => meant(() => face.byKey[press]?.()),
  enter: () => meant(() => face.enter()),
  back: () => meant(() => desk.stepBack()),
  play: () => player.toggle(),
  earlier: () => player.seek(player.nowUs - TWO_SECONDS),
  later: () => player.seek(player.nowUs + TWO_SECONDS),
  'rally-before': () => goBeside(-1),
  'rally-after': () => goBeside(1),
  'frame-back': () => player.step(-1),
  'frame-on': () => player.step(1),
  'serve-again': serveAgain,
  speed: () => player.nextSpeed(),
  'rallies-only': ralliesOnly,
  'starts-here': () => desk.mark('start_us'),
  'ends-here': () => desk.mark('end_us'),
  box: () => desk.otherBox(),
  note: () => desk.turn('note'),
  keep: () => desk.keep(),
  called: () => desk.turn('called'),
  go: () => focusSheet(grid),
  room: () => changeRoom(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});

grid.addEventListener('keydown', (event) => {
  const by = { ArrowUp: -1, ArrowDown: 1, PageUp: -10, PageDown: 10 }[event.key];
  if (event.key === 'Escape') /** @type {HTMLElement} */ (document.activeElement)?.blur();
  if (by === undefined) return;
  event.preventDefault();
  moveInSheet(grid, by);
});
lane.addEventListener('click', (event) => {
  const { left, width } = lane.getBoundingClientRect();
  const share = (/** @type {MouseEvent} */ (event).clientX - left) / width;
  player.seek(Math.round(laneView.from_us + share * (laneView.to_us - laneView.from_us)));
});
addEventListener('focus', () => desk.refresh());
addEventListener('pageshow', (event) => event.persisted && desk.refresh());

draw();
await desk.open();
document.documentElement.dataset.ready = 'record';
