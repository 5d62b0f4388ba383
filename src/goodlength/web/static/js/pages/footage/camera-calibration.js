// @ts-check
/* The camera page: one mark of the court is in hand; a click or Enter sets it and takes up the next. With four
   marks on the floor the camera is solved at each change and the court is drawn over the picture. */

import { offerUndo, putBack } from '../../lib/page/undo-line.js';
import { ask, failureWords } from '../../lib/server/json-requests.js';
import { el, need, svg } from '../../lib/page/dom.js';
import { clockWords } from '../../lib/page/time-and-score-format.js';
import { cameraIsSolvable, cameraResultWords, resultState } from '../../lib/video/measuring-words.js';
import { PointList } from '../../lib/video/point-sequence.js';
import { PointPicker, connectPoints, courtOver, crossAt, showTime, tell } from '../../lib/player/frame-point-picker.js';

/** @typedef {import('../../lib/server/message-types.js').SavedCamera} SavedCamera @typedef {import('../../lib/server/message-types.js').SavedCameras} SavedCameras */

const begin = /** @type {import('../../lib/server/message-types.js').CameraPage} */ (JSON.parse(need('#point-picking').dataset.begin ?? '{}'));
const MARKS = begin.marks;
const CAMERA = `/api/footage/${encodeURIComponent(begin.footage)}/camera`;
const WAIT_MS = 120;
const KNOCK_US = 1_000_000; // how closely the moment of a knock is looked for
const DETECTING = 'Detecting the court. This takes some seconds; you can set marks meanwhile.';

/** @type {Set<string>} */
let leftOut = new Set();
/** @type {import('../../lib/server/message-types.js').SolvedCamera | null} */
let solved = null;
let failed = false; // the last answer for these marks was an error
let asked = 0;
/** @type {number | undefined} */
let due;
let { cameras } = begin;

const whole = { start_us: begin.part.starts_us, end_us: begin.part.starts_us + begin.end_us - begin.first_us };
const picker = new PointPicker(begin, { match: need('#point-picking').dataset.match ?? '', window: () => whole }, { placed: (spot) => points.place(spot), moved: drawOver, shown });
const points = new PointList(MARKS.length, picker, { changed, taken }, { wraps: true });

// ---- marks

/** The marks that are set, each with its place. */
const placed = () => MARKS.flatMap((mark, n) => (points.points[n] ? [{ mark, spot: points.points[n] }] : []));

function taken() {
  draw();
  const [list, row] = [need('.mark-list'), need('#rows tr.now')];
  const top = row.offsetTop - row.offsetHeight; // below the heading that stays; the page itself does not move
  if (top < list.scrollTop || row.offsetTop + row.offsetHeight > list.scrollTop + list.clientHeight) list.scrollTop = top;
}

function clear() {
  leftOut.delete(MARKS[points.hand].name);
  points.clear();
}

function leaveOut() {
  const { name } = MARKS[points.hand];
  if (points.inHand === null) return;
  if (!leftOut.delete(name)) leftOut.add(name);
  changed();
}

// ---- solving

/** The marks the camera is calibrated from. */
const used = () => placed().flatMap(({ mark }) => (leftOut.has(mark.name) ? [] : [mark]));

function changed() {
  failed = false;
  draw();
  clearTimeout(due);
  due = setTimeout(() => void solve(), WAIT_MS);
}

/** @param {{keep?: boolean, suggest?: boolean}} [more] */
async function solve(more = {}) {
  const mine = ++asked;
  clearTimeout(due);
  failed = false;
  if (!cameraIsSolvable(used())) {
    solved = null;
    draw();
    return tell('');
  }
  const clicks = placed().map(({ mark, spot }) => ({ mark: mark.name, u: spot.u, v: spot.v, detected: spot.detected === true }));
  try {
    /** @type {import('../../lib/server/message-types.js').CameraMarksIn} */
    const body = { at_us: picker.us, clicks, leave_out: [...leftOut], ...more };
    const answer = /** @type {import('../../lib/server/message-types.js').SolvedCamera} */ (await ask(CAMERA, { body }));
    if (mine !== asked && !more.keep) return;
    solved = answer;
    cameras = answer.cameras;
    if (more.suggest) offer(answer.suggestions);
    tell(more.keep ? 'Saved. Positions and serves in this file can now be measured.' : more.suggest ? offerWords() : '');
  } catch (error) {
    if (mine !== asked) return;
    solved = null;
    failed = true;
    tell(failureWords(error, 'The connection dropped. The marks are still here; move one to ask again.'));
  }
  draw();
}

/** @param {import('../../lib/server/message-types.js').Suggestion[]} found */
function offer(found) {
  const byName = new Map(found.map(({ mark, u, v }) => [mark, { u, v }]));
  points.offers = MARKS.map((mark, n) => (points.points[n] ? null : (byName.get(mark.name) ?? null)));
  const first = points.offers.findIndex((spot) => spot !== null);
  if (first < 0) return;
  points.take(first);
  picker.figure.focus({ preventScroll: true }); // Enter takes what was found, also after the button was pressed
}

function offerWords() {
  const number = points.offers.filter((spot) => spot !== null).length;
  if (number === 0) return 'No more marks were found on the red lines. Click them yourself.';
  return `${number} marks were found on the red lines. Check each one: Enter accepts it, Delete removes it.`;
}

// ---- the court found by itself

/** Look for the court in the frame on show, and put its marks there for the coach to check. */
async function detectCourt() {
  const button = /** @type {HTMLButtonElement} */ (need('#detect'));
  const us = picker.us;
  const before = points.count;
  button.disabled = true;
  tell(DETECTING);
  try {
    const found = /** @type {import('../../lib/server/message-types.js').CourtProposal} */ (await ask(`/api/footage/${encodeURIComponent(begin.footage)}/court?us=${us}`));
    if (points.count !== before || picker.us !== us) {
      if (need('#state').textContent === DETECTING) tell('The court was not shown, because you changed the marks or the frame meanwhile.');
    } else await proposeCourt(found);
  } catch (error) {
    tell(failureWords(error, 'The connection dropped. Set the marks yourself, or try again.'));
  }
  button.disabled = false;
}

/** @param {import('../../lib/server/message-types.js').CourtProposal} found */
async function proposeCourt(found) {
  if (!found.offered) return tell(`${found.why} Set the marks yourself.`);
  setMarks(found.clicks, []);
  await solve();
  if (solved) tell(`The court was detected. If the drawn lines lie on the lines of your court and left is left, save it. If not, correct the marks. ${found.note}`);
}

/** Put marks on the frame in place of those there. @param {import('../../lib/server/message-types.js').Click[]} clicks @param {string[]} ignored */
function setMarks(clicks, ignored) {
  points.points.fill(null);
  points.offers.fill(null);
  for (const { mark, u, v, detected } of clicks) {
    const n = MARKS.findIndex((each) => each.name === mark);
    if (n >= 0) points.points[n] = { u, v, detected: detected === true };
  }
  leftOut = new Set(ignored);
}

// ---- drawing

function shown() {
  showTime(picker.us);
  draw();
}

function draw() {
  const mark = MARKS[points.hand];
  picker.name(mark.words);
  need('#hand-edge').textContent = `Click: ${mark.edge}`;
  need('#hand-state').textContent = stateWords(points.hand);
  drawOver();
  drawPlan();
  drawRows();
  drawWords();
}

/** @param {number} n */
function stateWords(n) {
  const { name } = MARKS[n];
  if (leftOut.has(name)) return 'Set, but ignored.';
  const off = solved?.residuals.find((residual) => residual.mark === name);
  const spot = points.points[n];
  if (spot) {
    if (spot.detected) return 'Detected. Arrow keys move it.';
    const far = off && off.cm !== null ? `, ${off.cm.toFixed(1)} cm from where the other marks put it` : '';
    return `Set${far}. Arrow keys move it.`;
  }
  return points.offers[n] ? 'Found on the red lines: Enter accepts it.' : 'Not set. If you cannot see it, go to the next mark.';
}

function drawOver() {
  const k = picker.scale;
  const over = solved ? courtOver(solved.strokes) : [];
  for (const { mark, spot } of placed()) {
    const doubted = solved?.suspects.some((suspect) => suspect.mark === mark.name);
    const d = crossAt(spot, k);
    over.push(svg('path', { class: 'mark-case', d }), svg('path', { class: `mark ${leftOut.has(mark.name) ? 'out' : ''} ${doubted ? 'off' : ''}`, d }));
  }
  points.offers.forEach((spot, n) => {
    if (spot && !points.points[n]) over.push(svg('rect', { class: 'offer', x: spot.u - 6 * k, y: spot.v - 6 * k, width: 12 * k, height: 12 * k }));
  });
  for (const suspect of solved?.suspects ?? []) {
    over.push(svg('circle', { class: 'offer', cx: suspect.u, cy: suspect.v, r: 9 * k }));
  }
  picker.layer.replaceChildren(...over);
  picker.drawCross();
}

function drawPlan() {
  const plan = /** @type {SVGElement} */ (/** @type {unknown} */ (need('#plan')));
  if (!plan.childElementCount) {
    const [u0, v0, u1, v1] = begin.plan.bounds;
    plan.setAttribute('viewBox', `${u0 - 0.3} ${v0 - 0.3} ${u1 - u0 + 0.6} ${v1 - v0 + 0.6}`);
    for (const shape of begin.plan.shapes) {
      const d = `M${shape.points.map((point) => point.join(' ')).join('L')}Z`;
      plan.append(svg('path', { class: `c-${shape.what}`, d }));
    }
    plan.append(svg('circle', { class: 'here', r: 0.42 }));
  }
  const here = need('.here', plan);
  here.setAttribute('cx', String(MARKS[points.hand].at[0]));
  here.setAttribute('cy', String(MARKS[points.hand].at[1]));
}

function drawRows() {
  const residuals = new Map((solved?.residuals ?? []).map((residual) => [residual.mark, residual]));
  const doubted = new Set((solved?.suspects ?? []).map((suspect) => suspect.mark));
  need('#rows').replaceChildren(
    ...MARKS.map((mark, n) => {
      const off = residuals.get(mark.name);
      const isSet = points.points[n] !== null;
      const state = [n === points.hand ? 'now' : '', isSet ? 'set' : '', leftOut.has(mark.name) ? 'out' : ''];
      const words = points.offers[n] && !isSet ? `${mark.words} (found)` : mark.words;
      const figure = doubted.has(mark.name) ? 'num tab off' : 'num tab';
      return el(
        'tr',
        { class: state.join(' ').trim(), 'aria-current': n === points.hand ? 'true' : undefined },
        el('th', { scope: 'row' }, el('button', { type: 'button', onclick: () => points.take(n) }, words)),
        el('td', { class: figure }, off && off.cm !== null && !points.points[n]?.detected ? off.cm.toFixed(1) : points.points[n]?.detected ? 'detected' : isSet ? '·' : ''),
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
  const state = resultState({ found: solved !== null, enough: cameraIsSolvable(used()), failed });
  need('#unknown-part').hidden = state === 'measuring';
  if (solved) {
    list('#words', solved.words, solved.words.length - solved.suspects.length);
    list('#not-known', solved.not_known, Infinity);
  } else if (state !== 'found') {
    list('#words', [cameraResultWords(state, state === 'too few' ? placed().map(({ mark }) => mark) : used())], Infinity);
    list('#not-known', ['The position of the camera.'], Infinity);
  }
  need('#saved').hidden = !cameras.length;
  need('#saved-rows').replaceChildren(
    ...cameras.map((camera) =>
      el(
        'li',
        {},
        el('span', {}, `${camera.holds}: ${camera.about}`),
        el(
          'span',
          {},
          el('button', { type: 'button', class: 'link', onclick: () => void open(camera) }, 'Show'),
          ' ',
          el('button', { type: 'button', class: 'link', onclick: () => void forget(camera) }, 'Delete'),
        ),
      ),
    ),
  );
}

// ---- kept cameras

/** Put a kept camera's marks on their picture. @param {SavedCamera} camera */
async function open(camera) {
  solved = null;
  failed = false;
  setMarks(camera.clicks, camera.leave_out);
  await picker.show(camera.clicked_us);
  points.take(Math.max(0, points.points.findIndex((point) => point !== null)));
  await solve();
}

/** @param {SavedCamera} camera */
async function forget(camera) {
  try {
    const removed = /** @type {import('../../lib/server/message-types.js').CameraRemoved} */ (await ask(`${CAMERA}/forget`, { body: { from_us: camera.from_us } }));
    cameras = removed.cameras;
    tell('Its marks are still shown on the frame.');
    offerUndo('Removed: the calibration.', () => takeBack(removed.undo));
  } catch (error) {
    tell(failureWords(error, 'The connection dropped. Nothing was changed.'));
  }
  draw();
}

/** @param {string} item  the removal's id in the bin */
async function takeBack(item) {
  try {
    await putBack(item);
    cameras = /** @type {SavedCameras} */ (await ask(CAMERA)).cameras;
    tell('The calibration is restored.');
  } catch (error) {
    tell(failureWords(error, 'The connection dropped. Nothing was changed.'));
  }
  draw();
}

/** Whether the camera stands as it did, seen in the frame at a time. @param {number} us */
const driftAt = async (us) =>
  /** @type {import('../../lib/server/message-types.js').CameraDrift} */ (await ask(`/api/footage/${encodeURIComponent(begin.footage)}/drift?us=${us}`));

/** Look at a dozen moments of the file, one after the other; where the camera moved, find the court again there. */
async function detectDrift() {
  const words = need('#moved-words');
  const last = cameras[cameras.length - 1];
  const from = Math.max(last.clicked_us, begin.first_us);
  let still = from;
  let unclear = 0;
  try {
    for (let n = 1; n <= 12; n += 1) {
      const us = Math.round(from + ((begin.end_us - 1 - from) * n) / 12);
      words.textContent = `Checking ${clockWords(us)} …`;
      const found = await driftAt(us);
      if (found.state === 'moved') return await showMoved(still, us);
      if (found.state === 'still') still = us;
      else unclear += 1;
    }
  } catch (error) {
    words.textContent = failureWords(error, 'The connection dropped.');
    return;
  }
  words.textContent =
    unclear > 6
      ? 'Not known: too few marks were found again. Check the drawn court on later frames.'
      : `The camera did not move in ${12 - unclear} of 12 frames checked${unclear ? '; the others are unclear' : ''}.`;
}

/** Narrow down when the camera moved, show the first frame after it, and look for the court there. @param {number} still @param {number} moved */
async function showMoved(still, moved) {
  const words = need('#moved-words');
  let [low, high] = [still, moved];
  while (high - low > KNOCK_US) {
    const us = Math.round((low + high) / 2);
    words.textContent = `Checking ${clockWords(us)} …`;
    if ((await driftAt(us)).state === 'still') low = us;
    else high = us;
  }
  words.textContent = `At ${clockWords(high)}: ${(await driftAt(high)).words}`;
  setMarks([], []);
  solved = null;
  await picker.show(high);
  await detectCourt();
}

need('#keep').addEventListener('click', () => void solve({ keep: true }));
need('#suggest').addEventListener('click', () => void solve({ suggest: true }));
need('#detect').addEventListener('click', () => void detectCourt());
need('#moved').addEventListener('click', () => void detectDrift());

connectPoints(points, picker, '.mark-list', {
  clear,
  'leave-out': leaveOut,
  suggest: () => void solve({ suggest: true }),
  keep: () => void solve({ keep: true }),
});

if (cameras.length) await open(cameras[cameras.length - 1]);
else await picker.show(begin.at_us);
points.take(points.hand);
document.documentElement.dataset.ready = 'camera';
if (begin.proposal) void proposeCourt(begin.proposal);
else if (!cameras.length) void detectCourt();
