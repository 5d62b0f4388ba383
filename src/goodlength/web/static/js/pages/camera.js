// @ts-check
/* The camera page: one mark of the court is in hand; a click or Enter sets it and takes up the next. With four
   marks on the floor the camera is solved at each change and the court is drawn over the picture. */

import { ask } from '../lib/api.js';
import { el, need, svg } from '../lib/dom.js';
import { listen } from '../lib/keys.js';
import { toggleTheme } from '../lib/theme.js';
import { Shot, courtOver } from '../lib/point-picker.js';
import { clockWords, readTime } from '../lib/format.js';

/** @typedef {{name: string, words: string, edge: string, floor: boolean, at: [number, number]}} Mark */

const begin = JSON.parse(need('#marking').dataset.begin ?? '{}');
/** @type {Mark[]} */
const MARKS = begin.marks;
const CAMERA = `/api/footage/${encodeURIComponent(begin.footage)}/camera`;
const WAIT_MS = 120;

/** @type {Map<string, import('../lib/point-picker.js').Spot>} */
const set = new Map();
/** @type {Set<string>} */
let leftOut = new Set();
/** @type {Map<string, import('../lib/point-picker.js').Spot>} */
let offers = new Map();
let hand = 0;
/** @type {any} */
let solved = null;
let asked = 0;
/** @type {number | undefined} */
let due;
let cameras = begin.cameras;
let fresh = true; // the cross was put somewhere for the mark in hand

const shot = new Shot(need('#shot'), begin, { placed, moved: draw, shown });

// ---- marks

/** @param {import('../lib/point-picker.js').Spot} spot */
function placed(spot) {
  set.set(MARKS[hand].name, spot);
  changed();
  next();
}

function setHere() {
  const name = MARKS[hand].name;
  if (!set.has(name) && !fresh) return tell('The cross still stands on the mark before. Move it with the arrow keys, or click.');
  if (!set.has(name)) set.set(name, { ...shot.cross });
  changed();
  next();
}

/** Take up the next mark that was found and is not set; where none was found, the next that is not set. */
function next() {
  const found = (/** @type {Mark} */ one) => offers.has(one.name) && !set.has(one.name);
  const offered = MARKS.findIndex((one, n) => n > hand && found(one));
  const first = offered >= 0 ? offered : MARKS.findIndex(found);
  if (first >= 0) return take(first);
  const later = MARKS.findIndex((one, n) => n > hand && !set.has(one.name));
  const any = later >= 0 ? later : MARKS.findIndex((one) => !set.has(one.name));
  return take(any >= 0 ? any : hand);
}

/** @param {number} n */
function take(n) {
  hand = (n + MARKS.length) % MARKS.length;
  const spot = set.get(MARKS[hand].name) ?? offers.get(MARKS[hand].name);
  if (spot) shot.put(spot);
  fresh = spot !== undefined || !set.size;
  draw();
  need('#rows tr.now').scrollIntoView({ block: 'nearest' });
}

/** @param {number} du @param {number} dv */
function nudge(du, dv) {
  shot.nudge(du, dv);
  fresh = true;
  if (set.has(MARKS[hand].name)) {
    set.set(MARKS[hand].name, { ...shot.cross });
    changed();
  }
}

function clear() {
  const name = MARKS[hand].name;
  set.delete(name);
  offers.delete(name);
  leftOut.delete(name);
  changed();
}

function leaveOut() {
  const name = MARKS[hand].name;
  if (!set.has(name)) return;
  if (!leftOut.delete(name)) leftOut.add(name);
  changed();
}

// ---- solving

function changed() {
  draw();
  clearTimeout(due);
  due = setTimeout(() => void solve(), WAIT_MS);
}

/** @param {{keep?: boolean, suggest?: boolean}} [more] */
async function solve(more = {}) {
  const mine = ++asked;
  clearTimeout(due);
  const floor = MARKS.filter((one) => one.floor && set.has(one.name) && !leftOut.has(one.name)).length;
  if (floor < 4 && set.size - leftOut.size < 6) {
    solved = null;
    draw();
    return tell('');
  }
  const clicks = [...set].map(([mark, spot]) => ({ mark, u: spot.u, v: spot.v }));
  try {
    const answer = await ask(CAMERA, { body: { at_us: shot.us, clicks, leave_out: [...leftOut], ...more } });
    if (mine !== asked && !more.keep) return;
    solved = answer;
    cameras = answer.cameras;
    if (more.suggest) offer(answer.suggestions);
    tell(more.keep ? 'Kept. Positions and serves of this file are measured with it.' : more.suggest ? offerWords() : '');
  } catch (error) {
    if (mine !== asked) return;
    solved = null;
    tell(/** @type {any} */ (error).words ?? 'The connection dropped. The marks are still here; move one to ask again.');
  }
  draw();
}

/** @param {{mark: string, u: number, v: number}[]} found */
function offer(found) {
  offers = new Map(found.filter((one) => !set.has(one.mark)).map((one) => [one.mark, { u: one.u, v: one.v }]));
  const first = MARKS.findIndex((one) => offers.has(one.name));
  if (first < 0) return;
  take(first);
  need('#shot').focus(); // Enter takes what was found, also after the button was pressed
}

function offerWords() {
  if (!offers.size) return 'No further marks were found along red lines. Click them yourself.';
  return `${offers.size} marks were found along red lines. Look at each in the glass: Enter takes it, Delete drops it.`;
}

/** @param {string} words */
function tell(words) {
  need('#state').textContent = words;
}

// ---- drawing

function shown() {
  need('#caption').textContent = clockWords(shot.us);
  const time = /** @type {HTMLInputElement} */ (need('#time'));
  if (document.activeElement !== time) time.value = clockWords(shot.us);
  draw();
}

function draw() {
  const mark = MARKS[hand];
  need('#hand-words').textContent = mark.words;
  need('#hand-edge').textContent = `Click: ${mark.edge}`;
  need('#hand-state').textContent = stateWords(mark.name);
  drawOver();
  drawPlan();
  drawRows();
  drawWords();
}

/** @param {string} name */
function stateWords(name) {
  if (leftOut.has(name)) return 'Set, but left out.';
  const off = solved?.residuals.find((/** @type {any} */ one) => one.mark === name);
  const spot = set.get(name);
  if (spot) {
    const far = off ? `, ${off.px.toFixed(1)} px${off.cm === null ? '' : ` or ${off.cm.toFixed(1)} cm`} from where the others put it` : '';
    return `Set at ${spot.u.toFixed(1)}, ${spot.v.toFixed(1)}${far}. Arrow keys move it.`;
  }
  return offers.has(name) ? 'Found along red lines: Enter takes it.' : 'Not set. If it cannot be seen, take the next.';
}

function drawOver() {
  const k = shot.scale;
  const over = solved ? courtOver(solved.strokes) : [];
  for (const [name, spot] of set) {
    const doubted = solved?.suspects.some((/** @type {any} */ one) => one.mark === name);
    const d = `M${spot.u - 7 * k} ${spot.v - 7 * k}L${spot.u + 7 * k} ${spot.v + 7 * k}M${spot.u - 7 * k} ${spot.v + 7 * k}L${spot.u + 7 * k} ${spot.v - 7 * k}`;
    over.push(svg('path', { class: 'mark-case', d }), svg('path', { class: `mark ${leftOut.has(name) ? 'out' : ''} ${doubted ? 'off' : ''}`, d }));
  }
  for (const [name, spot] of offers) {
    if (!set.has(name)) over.push(svg('rect', { class: 'offer', x: spot.u - 6 * k, y: spot.v - 6 * k, width: 12 * k, height: 12 * k }));
  }
  for (const one of solved?.suspects ?? []) {
    over.push(svg('circle', { class: 'offer', cx: one.u, cy: one.v, r: 9 * k }));
  }
  shot.layer.replaceChildren(...over);
  shot.drawCross();
}

function drawPlan() {
  const plan = /** @type {SVGElement} */ (/** @type {unknown} */ (need('#plan')));
  if (!plan.childElementCount) {
    const [u0, v0, u1, v1] = begin.plan.bounds;
    plan.setAttribute('viewBox', `${u0 - 0.3} ${v0 - 0.3} ${u1 - u0 + 0.6} ${v1 - v0 + 0.6}`);
    for (const one of begin.plan.shapes) {
      const d = `M${one.points.map((/** @type {number[]} */ p) => p.join(' ')).join('L')}Z`;
      plan.append(svg('path', { class: `c-${one.what}`, d }));
    }
    plan.append(svg('circle', { class: 'here', r: 0.42 }));
  }
  const here = need('.here', /** @type {any} */ (plan));
  here.setAttribute('cx', String(MARKS[hand].at[0]));
  here.setAttribute('cy', String(MARKS[hand].at[1]));
}

function drawRows() {
  const off = new Map((solved?.residuals ?? []).map((/** @type {any} */ one) => [one.mark, one]));
  const doubted = new Set((solved?.suspects ?? []).map((/** @type {any} */ one) => one.mark));
  need('#rows').replaceChildren(
    ...MARKS.map((mark, n) => {
      const one = /** @type {any} */ (off.get(mark.name));
      const state = [n === hand ? 'now' : '', set.has(mark.name) ? 'set' : '', leftOut.has(mark.name) ? 'out' : ''];
      const words = offers.has(mark.name) && !set.has(mark.name) ? `${mark.words} (found)` : mark.words;
      const wrong = doubted.has(mark.name) ? 'num tab off' : 'num tab';
      return el(
        'tr',
        { class: state.join(' ').trim(), 'aria-current': n === hand ? 'true' : undefined },
        el('th', { scope: 'row' }, el('button', { type: 'button', onclick: () => take(n) }, words)),
        el('td', { class: wrong }, one ? one.px.toFixed(1) : set.has(mark.name) ? '·' : ''),
        el('td', { class: wrong }, one?.cm != null ? one.cm.toFixed(1) : ''),
      );
    }),
  );
}

function drawWords() {
  const list = (/** @type {string} */ where, /** @type {string[]} */ words, /** @type {number} */ strong) =>
    need(where).replaceChildren(...words.map((one, n) => el('li', { class: n >= strong ? 'strong' : '' }, one)));
  const keep = /** @type {HTMLButtonElement} */ (need('#keep'));
  keep.disabled = !solved;
  /** @type {HTMLButtonElement} */ (need('#suggest')).disabled = !solved;
  if (solved) {
    const words = /** @type {string[]} */ (solved.words);
    list('#words', words, words.length - solved.suspects.length);
    list('#not-known', solved.not_known, Infinity);
  } else {
    const floor = MARKS.filter((one) => one.floor && set.has(one.name)).length;
    list('#words', [`Nothing yet: ${set.size} marks set, ${floor} of them on the floor. Four on the floor give the floor; six, some above it, the whole court.`], Infinity);
    list('#not-known', ['Where the camera stands.'], Infinity);
  }
  need('#kept').hidden = !cameras.length;
  need('#kept-rows').replaceChildren(
    ...cameras.map((/** @type {any} */ one) =>
      el(
        'li',
        {},
        el('span', {}, `${one.holds}: ${one.about}`),
        el(
          'span',
          {},
          el('button', { type: 'button', class: 'link', onclick: () => void open(one) }, 'Show'),
          ' ',
          el('button', { type: 'button', class: 'link', onclick: () => void forget(one) }, 'Take back'),
        ),
      ),
    ),
  );
}

// ---- kept cameras

/** Put a kept camera's marks on their picture. @param {any} one */
async function open(one) {
  set.clear();
  offers.clear();
  for (const click of one.clicks) set.set(click.mark, { u: click.u, v: click.v });
  leftOut = new Set(one.leave_out);
  await shot.show(one.clicked_us);
  take(Math.max(0, MARKS.findIndex((mark) => set.has(mark.name))));
  await solve();
}

/** @param {any} one */
async function forget(one) {
  try {
    cameras = (await ask(`${CAMERA}/forget`, { body: { from_us: one.from_us } })).cameras;
    tell('Taken back. Its marks are still on the picture if it is shown.');
  } catch (error) {
    tell(/** @type {any} */ (error).words ?? 'The connection dropped. Nothing was changed.');
  }
  draw();
}

/** Look at a dozen moments of the file, one after the other. */
async function lookForDrift() {
  const words = need('#moved-words');
  const last = cameras[cameras.length - 1];
  const from = Math.max(last.clicked_us, begin.first_us);
  let unclear = 0;
  for (let n = 1; n <= 12; n += 1) {
    const us = Math.round(from + ((begin.end_us - 1 - from) * n) / 12);
    words.textContent = `Looking at ${clockWords(us)} …`;
    try {
      const found = await ask(`/api/footage/${encodeURIComponent(begin.footage)}/drift?us=${us}`);
      if (found.state === 'moved') {
        words.textContent = `At ${clockWords(us)}: ${found.words}`;
        return;
      }
      unclear += found.state === 'still' ? 0 : 1;
    } catch (error) {
      words.textContent = /** @type {any} */ (error).words ?? 'The connection dropped.';
      return;
    }
  }
  words.textContent =
    unclear > 6
      ? 'That cannot be told: too few marks were found again. Look at the court drawn over later pictures.'
      : `At ${12 - unclear} of 12 moments looked at it stands where it stood${unclear ? '; at the rest that cannot be told' : ''}.`;
}

need('#keep').addEventListener('click', () => void solve({ keep: true }));
need('#suggest').addEventListener('click', () => void solve({ suggest: true }));
need('#moved').addEventListener('click', () => void lookForDrift());
need('#time').addEventListener('change', (event) => {
  const us = readTime(/** @type {HTMLInputElement} */ (event.target).value);
  if (us !== null) void shot.show(us);
  else tell('A time is minutes and seconds, such as 1:02.5.');
});

// Arrow keys held down move on; `listen` lets only its own few keys repeat.
document.addEventListener('keydown', (event) => {
  if (!event.key.startsWith('Arrow') || event.ctrlKey || event.metaKey || event.altKey) return;
  const target = event.target instanceof Element ? event.target : null;
  if (target?.closest('input, select, textarea, dialog, .mark-list') && target !== document.body) return;
  event.preventDefault();
  const by = event.shiftKey ? 10 : event.repeat ? 1 : 0.5;
  const [du, dv] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key] ?? [0, 0];
  nudge(du * by, dv * by);
});

listen({
  set: setHere,
  clear,
  'leave-out': leaveOut,
  'mark-after': () => take(hand + 1),
  'mark-before': () => take(hand - 1),
  'frame-back': () => void shot.step(-1),
  'frame-on': () => void shot.step(1),
  suggest: () => void solve({ suggest: true }),
  keep: () => void solve({ keep: true }),
  room: () => toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});

if (cameras.length) await open(cameras[cameras.length - 1]);
else await shot.show(begin.at_us);
take(hand);
document.documentElement.dataset.ready = 'camera';
