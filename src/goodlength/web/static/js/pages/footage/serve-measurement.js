// @ts-check
/* Measuring a serve: one thing to mark is in hand; a click sets it in the picture shown. From two marks on, one
   of them on the front wall, the serve is measured at each change, and its path is drawn over the picture. */

import { offerUndo } from '../../lib/page/undo-line.js';
import { ask, failureWords } from '../../lib/server/json-requests.js';
import { el, need, svg } from '../../lib/page/dom.js';
import { clockWords } from '../../lib/page/time-and-score-format.js';
import { resultState, serveIsMeasurable, serveResultWords } from '../../lib/video/measuring-words.js';
import { PointList } from '../../lib/video/point-sequence.js';
import { PointPicker, connectPoints, crossAt, showTime, tell } from '../../lib/player/frame-point-picker.js';

/** @typedef {import('../../lib/server/message-types.js').MeasuredServe} MeasuredServe @typedef {import('../../lib/server/message-types.js').ServePoint} ServePoint */
/** @typedef {import('../../lib/server/message-types.js').ServeMarksIn} ServeMarksIn */

const begin = /** @type {import('../../lib/server/message-types.js').MeasurePage} */ (JSON.parse(need('#point-picking').dataset.begin ?? '{}'));
const WHAT = begin.what;
const HERE = `/api/matches/${encodeURIComponent(begin.match)}/serves/${encodeURIComponent(begin.rally)}`;
const WAIT_MS = 150;

/** @type {MeasuredServe | null} */
let found = null;
let saved = begin.kept;
let measuring = false;
let failed = false; // the last answer for these marks was an error
let asked = 0;
/** @type {number | undefined} */
let due;

const warmth = /** @type {HTMLSelectElement} */ (need('#warmth'));
warmth.value = begin.warmth;
const picker = new PointPicker(begin, { match: begin.match, window: () => begin.window, rally: () => begin.span }, { placed: (spot) => points.place(spot), moved: drawOver, shown });
const points = new PointList(WHAT.length, picker, { changed, taken: draw }, { timed: true }); // one for each of WHAT
begin.marks.forEach(put);

/** Put a mark into the first place of its kind that is free. @param {ServePoint} mark */
function put({ what, at_us, u, v, found: byComputer, again }) {
  const n = WHAT.findIndex((each, at) => each.what === what && !points.points[at]);
  if (n >= 0) points.points[n] = { u, v, at_us, found: Boolean(byComputer), ...(again && { again }) };
}

/** @returns {ServeMarksIn} */
function body() {
  const marks = points.points.flatMap((point, n) =>
    point
      ? [{ what: WHAT[n].what, at_us: point.at_us ?? picker.us, u: point.u, v: point.v, found: Boolean(point.found), ...(point.again && { again: point.again }) }]
      : [],
  );
  return { marks, warmth: /** @type {ServeMarksIn['warmth']} */ (warmth.value) };
}

function changed() {
  failed = false;
  draw();
  clearTimeout(due);
  if (points.repeats) return;
  due = setTimeout(() => void measure(), WAIT_MS);
}

async function measure() {
  const mine = ++asked;
  const request = body();
  if (!serveIsMeasurable(request.marks)) {
    found = null;
    tell('');
    return draw();
  }
  tell('Measuring …');
  measuring = true;
  failed = false;
  draw();
  try {
    const answer = /** @type {MeasuredServe} */ (await ask(`${HERE}/try`, { body: request }));
    if (mine !== asked) return;
    measuring = false;
    found = answer;
    const [, middle, range] = answer.lines[0];
    tell(`${middle} off the racket, ${range}. Not saved yet.`);
  } catch (error) {
    if (mine !== asked) return;
    measuring = false;
    found = null;
    failed = true;
    tell(failureWords(error, 'The connection dropped. The marks are still here; move one to ask again.'));
  }
  draw();
}

async function keep() {
  if (measuring) return tell('Measuring …');
  if (!found) return tell('Nothing to save yet. Set two marks, one of them on the front wall.');
  try {
    await ask(`${HERE}/keep`, { body: body() });
    saved = true;
    listed('measured');
    tell('Saved with the serve. Its speed is on the marker’s sheet, and Aim uses it for this player’s accuracy.');
    document.documentElement.dataset.saved = 'yes';
  } catch (error) {
    tell(failureWords(error, 'The connection dropped. It is not saved; press Save again.'));
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
    saved = false;
    listed('not measured');
    tell('Its marks are still shown on the frame.');
    offerUndo('Removed: the measurement.', keep);
  } catch (error) {
    tell(failureWords(error, 'The connection dropped. Nothing was changed.'));
  }
  draw();
}

/** Marks of the ball that were clicked, not found: the feet are no ball. */
function clickable() {
  return points.points.flatMap((point, n) => (point && !point.found && WHAT[n].what !== 'feet' ? [n] : []));
}

/** Begin to click the marks a second time, or stop that. */
function clickAgain() {
  const isRunning = points.repeats !== null;
  points.repeat(isRunning ? [] : clickable());
  if (isRunning) tell('Stopped. What you clicked a second time counts.');
  else picker.figure.scrollIntoView({ block: 'nearest' });
  changed();
}

async function findBall() {
  if (!found) return;
  tell('Looking for the ball between the marks …');
  /** @type {HTMLButtonElement} */ (need('#ball')).disabled = true;
  try {
    const answer = /** @type {import('../../lib/server/message-types.js').FoundBall} */ (await ask(`${HERE}/ball`, { body: body() }));
    if (answer.marks.length) {
      points.points = points.points.map((point, n) => (WHAT[n].what === 'ball' ? null : point));
      answer.marks.forEach(put);
      await measure();
    }
    tell(answer.words);
    document.documentElement.dataset.balls = String(answer.marks.length);
  } catch (error) {
    tell(failureWords(error, 'The connection dropped. The marks are still here; press again.'));
  }
  draw();
}

async function takeKind() {
  if (!found?.kind) return;
  try {
    await ask(`${HERE}/kind`, { body: { kind: found.kind } });
    tell(`Logged as ${found.kind_words}. You can change it on Record.`);
    found.kind = null;
  } catch (error) {
    tell(failureWords(error, 'The connection dropped. Nothing was logged; press again.'));
  }
  draw();
}

function shown() {
  showTime(picker.us);
  draw();
}

// ---- drawing

function draw() {
  picker.name(WHAT[points.hand].words);
  const mark = points.inHand;
  need('#hand-state').textContent = points.repeats
    ? `Click it once more. Your first click is hidden. ${points.repeats.length} to go.`
    : mark
    ? `Set at ${clockWords(mark.at_us ?? picker.us)}${mark.at_us === picker.us ? ', in this frame. Arrow keys move it.' : '; not the frame shown.'}`
    : 'Not set. If you cannot see it, go to the next. Two marks, one on the front wall, give the speed; a third gives the direction.';
  /** @type {HTMLButtonElement} */ (need('#keep')).disabled = !found || measuring;
  /** @type {HTMLButtonElement} */ (need('#ball')).disabled = !found;
  need('#forget').hidden = !saved;
  const again = /** @type {HTMLButtonElement} */ (need('#again'));
  again.disabled = !points.repeats && clickable().length === 0;
  again.textContent = points.repeats ? 'Stop' : 'Click the marks again';
  drawOver();
  drawRows();
  drawFound();
}

function drawOver() {
  const k = picker.scale;
  if (points.repeats) {
    picker.layer.replaceChildren(); // the path would show where the first click was
    return picker.drawCross();
  }
  const over = [];
  for (const part of found?.path ?? []) {
    const d = `M${part.map((point) => point.join(' ')).join('L')}`;
    over.push(svg('path', { class: 'case', d }), svg('path', { class: 'flown', d }));
  }
  for (const { n, u, v } of found?.touches ?? []) {
    over.push(svg('circle', { class: 'touch-at', cx: u, cy: v, r: 9 * k }), svg('text', { class: 'touch-n', x: u, y: v + 4.5 * k, 'font-size': 13 * k }, String(n)));
  }
  for (const point of points.points) {
    if (!point) continue;
    const d = crossAt(point, k);
    const faint = point.at_us === picker.us ? '' : ' faint';
    over.push(svg('path', { class: `mark-case${faint}`, d }), svg('path', { class: `mark${faint}`, d }));
  }
  picker.layer.replaceChildren(...over);
  picker.drawCross();
}

function drawRows() {
  let at = 0;
  const residuals = points.points.map((point) => (point && found ? found.marks[at++] : null));
  const empty = WHAT.findIndex(({ what }, n) => what === 'ball' && !points.points[n]);
  need('#rows').replaceChildren(
    ...WHAT.map(({ what, words }, n) => {
      const isSet = points.points[n] !== null;
      // of the places in the air, those set and one more are listed
      if (what === 'ball' && !isSet && n !== empty && n !== points.hand) return '';
      const off = residuals[n];
      const state = [n === points.hand ? 'now' : '', isSet ? 'set' : ''].join(' ').trim();
      const figure = off?.doubted ? 'num tab off' : 'num tab';
      return el(
        'tr',
        { class: state, 'aria-current': n === points.hand ? 'true' : undefined },
        el('th', { scope: 'row' }, el('button', { type: 'button', onclick: () => points.take(n) }, words)),
        el('td', { class: off?.doubted ? 'off' : '' }, off ? (off.doubted ? 'check' : 'fits') : isSet ? '·' : ''),
        el('td', { class: figure }, off && off.late_ms !== null ? String(off.late_ms) : ''),
      );
    }),
  );
}

function drawFound() {
  const lines = found?.lines ?? [];
  need('#lines').replaceChildren(
    ...lines.map(([name, middle, range]) => el('tr', {}, el('th', { scope: 'row' }, name), el('td', { class: 'middle tab' }, middle), el('td', { class: 'tab' }, range))),
  );
  need('#odds').replaceChildren(...(found?.odds ?? []).map((one) => el('li', {}, `${one}.`)));
  need('#kind-words').textContent = found?.kind_note ?? '';
  need('#kind-row').hidden = !found?.kind;
  need('#take-kind').textContent = found?.kind ? `Log it as ${found.kind_words}` : '';
  const state = resultState({ found: found !== null, enough: serveIsMeasurable(body().marks), failed });
  need('#range-words').textContent = serveResultWords(state, found?.level ?? 0);
  need('#notes').replaceChildren(...(found?.notes ?? []).map((one) => el('li', {}, one)));
  const drawing = found ? new DOMParser().parseFromString(found.court, 'text/html').body.firstElementChild : null;
  need('#path').hidden = !drawing && !found?.notes?.length;
  need('#court').replaceChildren(...(drawing ? [document.importNode(drawing, true)] : []));
}

warmth.addEventListener('change', changed);
need('#ball').addEventListener('click', () => void findBall());
need('#again').addEventListener('click', clickAgain);
need('#take-kind').addEventListener('click', () => void takeKind());
need('#forget').addEventListener('click', () => void forget());

connectPoints(points, picker, '.serve-list', { keep: () => void keep() });

await picker.show(begin.at_us);
points.take(Math.max(0, points.points.indexOf(null)));
await measure();
if (found && saved) tell('Saved with the serve.');
document.documentElement.dataset.ready = 'measure';
