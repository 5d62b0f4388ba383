// @ts-check
/* Measuring a serve: one thing to mark is in hand; a click sets it in the picture shown. From two marks on, one
   of them on the front wall, the serve is measured at each change, and its path is drawn over the picture. */

import { ask } from '../lib/api.js';
import { el, need, svg } from '../lib/dom.js';
import { listen } from '../lib/keys.js';
import { toggleTheme } from '../lib/theme.js';
import { Shot } from '../lib/point-picker.js';
import { clockWords, readTime } from '../lib/format.js';

/** @typedef {{u: number, v: number, at_us: number, found?: boolean}} Mark */

const begin = JSON.parse(need('#marking').dataset.begin ?? '{}');
/** @type {{what: string, words: string}[]} */
const WHAT = begin.what;
const HERE = `/api/matches/${encodeURIComponent(begin.match)}/serves/${encodeURIComponent(begin.rally)}`;
const WAIT_MS = 150;
const LEAST = 2;

/** @type {(Mark | null)[]} one for each of WHAT */
const marks = WHAT.map(() => null);
let hand = 0;
let fresh = true;
/** @type {any} */
let found = null;
let kept = begin.kept;
let measuring = false;
let asked = 0;
/** @type {number | undefined} */
let due;

for (const one of begin.marks) {
  const at = WHAT.findIndex((each, n) => each.what === one.what && !marks[n]);
  if (at >= 0) marks[at] = { u: one.u, v: one.v, at_us: one.at_us, found: Boolean(one.found) };
}

const warmth = /** @type {HTMLSelectElement} */ (need('#warmth'));
warmth.value = begin.warmth;
const shot = new Shot(need('#shot'), begin, { placed, moved: draw, shown });

/** @param {import('../lib/point-picker.js').Spot} spot */
function placed(spot) {
  marks[hand] = { ...spot, at_us: shot.us };
  changed();
  next();
}

function setHere() {
  if (!marks[hand] && !fresh) return tell('The cross still stands on the mark before. Move it with the arrow keys, or click.');
  marks[hand] = { ...shot.cross, at_us: shot.us };
  changed();
  next();
}

function next() {
  const open = marks.findIndex((one, n) => n > hand && !one);
  take(open >= 0 ? open : hand);
}

/** @param {number} n */
function take(n) {
  hand = (n + WHAT.length) % WHAT.length;
  const mark = marks[hand];
  if (mark) {
    shot.put(mark);
    if (mark.at_us !== shot.us) void shot.show(mark.at_us);
  }
  fresh = Boolean(mark) || marks.every((one) => !one);
  draw();
}

/** @param {number} du @param {number} dv */
function nudge(du, dv) {
  shot.nudge(du, dv);
  fresh = true;
  const mark = marks[hand];
  if (mark && mark.at_us === shot.us) {
    marks[hand] = { ...shot.cross, at_us: shot.us };
    changed();
  }
}

function clear() {
  marks[hand] = null;
  changed();
}

function body() {
  /** @type {{what: string, at_us: number, u: number, v: number, found: boolean}[]} */
  const told = [];
  marks.forEach((mark, n) => mark && told.push({ what: WHAT[n].what, at_us: mark.at_us, u: mark.u, v: mark.v, found: Boolean(mark.found) }));
  return { marks: told, warmth: warmth.value };
}

function changed() {
  draw();
  clearTimeout(due);
  due = setTimeout(() => void measure(), WAIT_MS);
}

async function measure() {
  const mine = ++asked;
  const told = body();
  if (told.marks.length < LEAST || !told.marks.some((one) => one.what === 'front')) {
    found = null;
    tell('');
    return draw();
  }
  tell('Measuring …');
  measuring = true;
  draw();
  try {
    const answer = await ask(`${HERE}/try`, { body: told });
    if (mine !== asked) return;
    measuring = false;
    found = answer;
    const [, middle, range] = answer.lines[0];
    tell(`${middle} off the racket, ${range}. Not kept yet.`);
  } catch (error) {
    if (mine !== asked) return;
    measuring = false;
    found = null;
    tell(/** @type {any} */ (error).words ?? 'The connection dropped. The marks are still here; move one to ask again.');
  }
  draw();
}

async function keep() {
  if (measuring) return tell('Measuring …');
  if (!found) return tell('Nothing is measured yet: two marks are needed, one of them on the front wall.');
  try {
    await ask(`${HERE}/keep`, { body: body() });
    kept = true;
    listed('measured');
    tell('Kept with the serve. Its speed stands on the marker’s sheet, and Aim uses it for this player’s scatter.');
    document.documentElement.dataset.kept = 'yes';
  } catch (error) {
    tell(/** @type {any} */ (error).words ?? 'The connection dropped. It is not kept; press Keep again.');
  }
  draw();
}

/** Say in the list of serves what became of this one. @param {string} words */
function listed(words) {
  const state = document.querySelector('.serve-list tr.now td:last-child');
  if (state) state.textContent = words;
}

async function forget() {
  try {
    await ask(`${HERE}/forget`, { method: 'POST' });
    kept = false;
    listed('not measured');
    tell('Taken back; it stays in the log.');
  } catch (error) {
    tell(/** @type {any} */ (error).words ?? 'The connection dropped. Nothing was changed.');
  }
  draw();
}

async function findBall() {
  if (!found) return;
  tell('Looking for the ball in the pictures between …');
  /** @type {HTMLButtonElement} */ (need('#ball')).disabled = true;
  try {
    const answer = await ask(`${HERE}/ball`, { body: body() });
    if (answer.marks.length) {
      WHAT.forEach((one, n) => {
        if (one.what === 'ball') marks[n] = null;
      });
      for (const one of answer.marks) {
        const at = WHAT.findIndex((each, n) => each.what === 'ball' && !marks[n]);
        if (at >= 0) marks[at] = { u: one.u, v: one.v, at_us: one.at_us, found: Boolean(one.found) };
      }
      await measure();
    }
    tell(answer.words);
    document.documentElement.dataset.balls = String(answer.marks.length);
  } catch (error) {
    tell(/** @type {any} */ (error).words ?? 'The connection dropped. The marks are still here; press again.');
  }
  draw();
}

async function takeKind() {
  if (!found?.kind) return;
  try {
    await ask(`${HERE}/kind`, { body: { kind: found.kind } });
    tell(`Recorded as ${found.kind_words}. Record can change it.`);
    found.kind = null;
  } catch (error) {
    tell(/** @type {any} */ (error).words ?? 'The connection dropped. Nothing was recorded; press again.');
  }
  draw();
}

/** @param {string} words */
function tell(words) {
  need('#state').textContent = words;
}

function shown() {
  need('#caption').textContent = clockWords(shot.us);
  const time = /** @type {HTMLInputElement} */ (need('#time'));
  if (document.activeElement !== time) time.value = clockWords(shot.us);
  draw();
}

// ---- drawing

function draw() {
  need('#hand-words').textContent = WHAT[hand].words;
  const mark = marks[hand];
  need('#hand-state').textContent = mark
    ? `Set at ${clockWords(mark.at_us)}${mark.at_us === shot.us ? ', in this picture. Arrow keys move it.' : '; not the picture shown.'}`
    : 'Not set. If it cannot be seen, take the next: two marks, one of them on the front wall, give a speed; a third says where it goes.';
  /** @type {HTMLButtonElement} */ (need('#keep')).disabled = !found || measuring;
  /** @type {HTMLButtonElement} */ (need('#ball')).disabled = !found;
  need('#forget').hidden = !kept;
  drawOver();
  drawRows();
  drawFound();
}

function drawOver() {
  const k = shot.scale;
  const over = [];
  for (const part of found?.path ?? []) {
    const d = `M${part.map((/** @type {number[]} */ p) => p.join(' ')).join('L')}`;
    over.push(svg('path', { class: 'case', d }), svg('path', { class: 'flown', d }));
  }
  for (const one of found?.touches ?? []) {
    over.push(svg('circle', { class: 'touch-at', cx: one.u, cy: one.v, r: 9 * k }), svg('text', { class: 'touch-n', x: one.u, y: one.v + 4.5 * k, 'font-size': 13 * k }, String(one.n)));
  }
  marks.forEach((mark) => {
    if (!mark) return;
    const d = `M${mark.u - 7 * k} ${mark.v - 7 * k}L${mark.u + 7 * k} ${mark.v + 7 * k}M${mark.u - 7 * k} ${mark.v + 7 * k}L${mark.u + 7 * k} ${mark.v - 7 * k}`;
    const faint = mark.at_us === shot.us ? '' : ' faint';
    over.push(svg('path', { class: `mark-case${faint}`, d }), svg('path', { class: `mark${faint}`, d }));
  });
  shot.layer.replaceChildren(...over);
  shot.drawCross();
}

function drawRows() {
  let at = 0;
  const set = marks.map((mark) => (mark && found ? found.marks[at++] : null));
  const empty = WHAT.findIndex((one, n) => one.what === 'ball' && !marks[n]);
  need('#rows').replaceChildren(
    ...WHAT.map((one, n) => {
      // of the places in the air, those set and one more are listed
      if (one.what === 'ball' && !marks[n] && n !== empty && n !== hand) return '';
      const off = set[n];
      const state = [n === hand ? 'now' : '', marks[n] ? 'set' : ''].join(' ').trim();
      const figure = off?.doubted ? 'num tab off' : 'num tab';
      return el(
        'tr',
        { class: state, 'aria-current': n === hand ? 'true' : undefined },
        el('th', { scope: 'row' }, el('button', { type: 'button', onclick: () => take(n) }, one.words)),
        el('td', { class: figure }, off ? off.px.toFixed(1) : marks[n] ? '·' : ''),
        el('td', { class: figure }, off?.late_ms != null ? String(off.late_ms) : ''),
      );
    }),
  );
}

function drawFound() {
  const lines = /** @type {[string, string, string][]} */ (found?.lines ?? []);
  need('#lines').replaceChildren(
    ...lines.map(([name, middle, range]) => el('tr', {}, el('th', { scope: 'row' }, name), el('td', { class: 'middle tab' }, middle), el('td', { class: 'tab' }, range))),
  );
  need('#odds').replaceChildren(...(found?.odds ?? []).map((/** @type {string} */ one) => el('li', {}, `Of 100 flights that fit, ${one}.`)));
  need('#kind-words').textContent = found?.kind_said ?? '';
  need('#kind-row').hidden = !found?.kind;
  need('#take-kind').textContent = found?.kind ? `Record it as ${found.kind_words}` : '';
  need('#range-words').textContent = found ? `Ranges hold ${found.level} in 100 of what fits the marks: the ball clicked 4.5 px off, half a picture, and what is not known of ball and court.` : 'Nothing yet: two marks, one of them on the front wall, give a speed; a third says where it goes.';
  need('#notes').replaceChildren(...(found?.notes ?? []).map((/** @type {string} */ one) => el('li', {}, one)));
  const drawing = found ? new DOMParser().parseFromString(found.court, 'text/html').body.firstElementChild : null;
  need('#court').replaceChildren(...(drawing ? [document.importNode(drawing, true)] : []));
}

warmth.addEventListener('change', changed);
need('#ball').addEventListener('click', () => void findBall());
need('#take-kind').addEventListener('click', () => void takeKind());
need('#forget').addEventListener('click', () => void forget());
need('#time').addEventListener('change', (event) => {
  const us = readTime(/** @type {HTMLInputElement} */ (event.target).value);
  if (us !== null) void shot.show(us);
  else tell('A time is minutes and seconds, such as 1:02.5.');
});

// Arrow keys held down move on; `listen` lets only its own few keys repeat.
document.addEventListener('keydown', (event) => {
  if (!event.key.startsWith('Arrow') || event.ctrlKey || event.metaKey || event.altKey) return;
  const target = event.target instanceof Element ? event.target : null;
  if (target?.closest('input, select, textarea, dialog, .serve-list') && target !== document.body) return;
  event.preventDefault();
  const by = event.shiftKey ? 10 : event.repeat ? 1 : 0.5;
  const [du, dv] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key] ?? [0, 0];
  nudge(du * by, dv * by);
});

listen({
  set: setHere,
  clear,
  'mark-after': () => take(hand + 1),
  'mark-before': () => take(hand - 1),
  'frame-back': () => void shot.step(-1),
  'frame-on': () => void shot.step(1),
  keep: () => void keep(),
  room: () => void toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});

await shot.show(begin.at_us);
take(Math.max(0, marks.findIndex((one) => !one)));
await measure();
if (found && kept) tell('Kept with the serve, as it stands.');
document.documentElement.dataset.ready = 'measure';
