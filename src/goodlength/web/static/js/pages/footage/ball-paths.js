// @ts-check
/* The ball's path, shot by shot: over the video, and on the unfolded court beside it. A path in hand can be
   corrected with keys and clicks. Nothing here is recorded. */

import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { el, need, svg } from '../../lib/page/dom.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { clockWords } from '../../lib/page/time-and-score-format.js';
import { neighbourSound, onCourt, overPicture, sureWords } from '../../lib/ball/path-drawing.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { ask, failureWords, RefusedError } from '../../lib/server/json-requests.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';

/** @typedef {import('../../lib/server/message-types.js').RallyDrawing} RallyDrawing @typedef {import('../../lib/server/message-types.js').ShotDrawing} ShotDrawing */

const LEAD_US = 500_000;
const AFTER_US = 400_000;
const TWO_SECONDS = 2_000_000;
const IN_HAND = 'Path in hand. Click the ball in the video to mark it.';
const main = need('#record');
const MATCH = `/api/matches/${encodeURIComponent(main.dataset.match ?? '')}`;
const names = (main.dataset.names ?? '').split('|');
const chooser = /** @type {HTMLSelectElement} */ (need('#rally'));
const files = /** @type {import('../../lib/server/message-types.js').Files} */ (await ask(`${MATCH}/films`));

/** @type {RallyDrawing | null} */
let rally = null;
let at = 0; // the shot shown
let inHand = false;
let busy = false;
let stopAt = Infinity;
const player = new VideoPlayer(need('#frame'), files.parts, moved);
const controls = new PlayerControls(player, {
  match: main.dataset.match ?? '',
  hidesDrawings: true,
  rally: () => (rally ? { start_us: rally.from_us, end_us: rally.to_us } : null),
  tell,
  released: () => {
    stopAt = Infinity;
  },
});
const over = need('.over-picture');
const overSheet = svg('svg', { class: 'path-over' });
over.prepend(overSheet);
const courtSheet = svg('g', { class: 'path-on-court' });
need('#court svg').append(courtSheet);

// ---- drawing

/** @returns {ShotDrawing | undefined} */
const shotShown = () => rally?.shots[at];

function draw() {
  const shot = shotShown();
  const found = rally?.shots.length ?? 0;
  need('#which').textContent = shot ? `Shot ${shot.number} of ${found}: ${whoWords(shot)}` : 'No shot';
  need('#about').textContent = shot ? `${clockWords(shot.struck_us)} to ${clockWords(shot.until_us)}` : '';
  need('#words').textContent = shot ? pathWords(shot) : (rally?.reason || 'No shot was found in this rally.');
  need('#missing').textContent = rally?.missing.join(' ') ?? '';
  need('#stale').hidden = !rally?.out_of_date;
  need('#stale-words').textContent = rally?.out_of_date ?? '';
  need('#rows').replaceChildren(...(rally?.shots ?? []).map(row));
  showRow();
  drawServe();
  main.classList.toggle('path-in-hand', inHand);
  controls.pressed('path', inHand);
  drawPath();
}

/** What is measured of the serve, while the first shot is shown. */
function drawServe() {
  const serve = at === 0 ? rally?.serve : null;
  need('#serve-measured').hidden = !serve;
  need('#serve-words').textContent = serve?.words ?? '';
  need('#serve-lines').replaceChildren(
    ...(serve?.lines ?? []).map(([name, best, range]) => el('tr', {}, el('th', { scope: 'row' }, name), el('td', { class: 'tab num' }, best), el('td', { class: 'tab num' }, range))),
  );
}

/** Scroll the list to the shot shown, never the page. */
function showRow() {
  const now = /** @type {HTMLElement | null} */ (document.querySelector('#rows tr.now'));
  const list = need('#paths .rally-list');
  if (now) list.scrollTop = Math.max(0, now.offsetTop - list.clientHeight / 2);
}

/** @param {ShotDrawing} shot */
const whoWords = (shot) => (shot.striker === 'a' ? names[0] : shot.striker === 'b' ? names[1] : 'player not known');

/** @param {ShotDrawing} shot */
function pathWords(shot) {
  const path = shot.paths[0];
  if (!path) return shot.reason || 'No path of this shot was found. Mark the ball: take the path in hand and click it.';
  const contacts = path.contacts.map((contact, n) => `${n + 1} ${contact.words}`).join(', ');
  return `${contacts}. Path 1 of ${shot.paths.length}; ${sureWords(shot)}.`;
}

/** @param {ShotDrawing} shot @param {number} n */
function row(shot, n) {
  const path = shot.paths[0];
  return el(
    'tr',
    { class: n === at ? 'now' : '', 'aria-current': n === at ? 'true' : undefined },
    el('th', { scope: 'row' }, el('button', { type: 'button', class: 'link', onclick: () => go(n, true) }, String(shot.number))),
    el('td', {}, shot.striker ? whoWords(shot).split(' ')[0] : '–'),
    el('td', {}, path ? path.words.replace(/^racket, /, '') : '–'),
    el('td', { class: 'tab num' }, path ? String(Math.round(path.speed_km_h)) : '–'),
    el('td', {}, el('span', { class: shot.sure || shot.corrected ? '' : 'doubtful' }, sureWords(shot))),
  );
}

function drawPath() {
  const shot = shotShown();
  const now = player.nowUs;
  const side = shot?.striker === 'b' ? 'side-b' : 'side-a';
  for (const sheet of [overSheet, courtSheet]) sheet.setAttribute('class', `${sheet === overSheet ? 'path-over' : 'path-on-court'} ${side}`);
  overSheet.replaceChildren(...(shot ? overPicture(shot, now, { width: over.clientWidth, height: over.clientHeight }, inHand) : []));
  courtSheet.replaceChildren(...(shot ? onCourt(shot, now, inHand) : []));
  need('#trouble').hidden = player.problems.length === 0;
}

function moved() {
  const now = player.nowUs;
  if (player.playing && now >= stopAt) {
    stopAt = Infinity;
    player.pause();
  }
  if (player.playing && !inHand && rally) {
    const shown = rally.shots.findLastIndex((shot) => shot.struck_us <= now);
    if (shown >= 0 && shown !== at) {
      at = shown;
      return draw();
    }
  }
  return drawPath();
}

/** @param {string} words */
function tell(words) {
  const state = need('#state');
  state.textContent = words;
  state.classList.toggle('strong', words !== '' && words !== IN_HAND);
  state.parentElement?.classList.toggle('has-message', words !== '' && words !== IN_HAND);
}

// ---- going about

/** @param {string} key */
async function open(key) {
  try {
    rally = /** @type {RallyDrawing} */ (await ask(`${MATCH}/paths/${encodeURIComponent(key)}`));
  } catch (error) {
    rally = null;
    tell(failureWords(error, 'The path could not be loaded. Try again.'));
  }
  chooser.value = key;
  inHand = false;
  go(0, false);
}

/** @param {number} n @param {boolean} play */
function go(n, play) {
  at = Math.max(0, Math.min(n, (rally?.shots.length ?? 1) - 1));
  tell(inHand ? IN_HAND : '');
  again(play);
  draw();
}

function again(play = true) {
  const shot = shotShown();
  if (!shot) return void (rally && player.seek(rally.from_us, false));
  stopAt = shot.until_us + AFTER_US;
  return player.seek(Math.max(0, play ? shot.struck_us - LEAD_US : shot.struck_us), play);
}

/** @param {number} by */
function nextRally(by) {
  const n = chooser.selectedIndex + by;
  if (n >= 0 && n < chooser.options.length) void open(chooser.options[n].value);
}

/** @param {boolean} on */
function take(on) {
  if (on && !shotShown()) return tell('There is no shot to take in hand.');
  inHand = on;
  if (on) player.pause();
  tell(on ? IN_HAND : '');
  return draw();
}

// ---- correcting

/** Send what the coach says of the path in hand, and show what became of it. @param {string} what @param {object} body @param {string} done */
async function correct(what, body, done) {
  if (!rally || busy) return;
  busy = true;
  tell('Fitting again …');
  const struck = shotShown()?.struck_us ?? 0;
  try {
    rally = /** @type {RallyDrawing} */ (await ask(`${MATCH}/paths/${encodeURIComponent(rally.key)}/${what}`, { body: { ...body, version: rally.version } }));
    const nearest = rally.shots.reduce((best, shot, n) => (Math.abs(shot.struck_us - struck) < Math.abs((rally?.shots[best]?.struck_us ?? 0) - struck) ? n : best), 0);
    at = nearest;
    tell(done);
  } catch (error) {
    const words = failureWords(error, 'The connection dropped. Nothing was changed; try again.');
    if (error instanceof RefusedError && error.kind === 'conflict') await open(rally.key);
    tell(words);
  }
  busy = false;
  draw();
}

/** Only while a path is in hand. @param {(shot: ShotDrawing) => void} does */
function whileInHand(does) {
  const shot = shotShown();
  if (!inHand || !shot) return tell('Press P first: it takes the path of this shot in hand.');
  return does(shot);
}

/** @param {1 | -1} way */
function moveStrike(way) {
  whileInHand((shot) => {
    const to = neighbourSound(rally?.sounds_us ?? [], rally?.shots ?? [], shot, way);
    if (to === null) tell(`No sound ${way < 0 ? 'before' : 'after'} this strike is free.`);
    else void correct('strike', { shot: shot.number, to_us: to }, `The strike is at ${clockWords(to)} now.`);
  });
}

// A click on the picture while a path is in hand marks the ball; it neither plays nor moves the picture.
need('#frame').addEventListener(
  'pointerdown',
  (event) => {
    if (!inHand || event.button !== 0 || controls.board?.on) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    const box = over.getBoundingClientRect();
    const [x, y] = [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
    if (x < 0 || x > 1 || y < 0 || y > 1) return tell('Click within the picture.');
    return void correct('mark', { us: Math.round(player.nowUs), x, y }, 'Marked. The rally was fitted again.');
  },
  { capture: true },
);

listen({
  ...controls.actions,
  earlier: () => player.seek(player.nowUs - TWO_SECONDS),
  later: () => player.seek(player.nowUs + TWO_SECONDS),
  'rally-before': () => nextRally(-1),
  'rally-after': () => nextRally(1),
  again: () => again(),
  path: () => take(true),
  'leave-path': () => take(false),
  'shot-before': () => go(at - 1, !inHand),
  'shot-after': () => go(at + 1, !inHand),
  'next-path': () =>
    whileInHand((shot) => {
      if (shot.paths.length < 2) tell('No other path of this shot was found.');
      else void correct('next', { shot: shot.number }, 'Next-best path.');
    }),
  'strike-before': () => moveStrike(-1),
  'strike-after': () => moveStrike(1),
  'no-shot': () => whileInHand((shot) => void correct('no-shot', { shot: shot.number }, 'No shot there. The rally was fitted again.')),
  'undo-path': () => void correct('undo', {}, 'Your corrections of this rally are undone.'),
  room: () => toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});
need('#follow-again').addEventListener('click', () => void correct('again', {}, 'Followed again.'));
chooser.addEventListener('change', () => {
  chooser.blur();
  void open(chooser.value);
});

const wanted = new URLSearchParams(location.search).get('us');
const options = [...chooser.options];
const begin = wanted === null ? 0 : Math.max(0, options.findLastIndex((option) => Number(option.dataset.start) <= Number(wanted)));
await open(options[begin].value);
document.documentElement.dataset.ready = 'paths';
