// @ts-check
/* Joints at a strike, drawn over the picture: dragged or moved by keys, saved at once, angles beside. */

import { ask, failureWords } from '../../lib/server/json-requests.js';
import { el, need, svg } from '../../lib/page/dom.js';
import { BONES } from '../../lib/player/court-overlay.js';

/** @typedef {import('../../lib/server/message-types.js').Joint} Joint @typedef {import('../../lib/server/message-types.js').Pose} Pose */
/** @typedef {{u: number, v: number}} Place  px of the picture */

const main = need('#main');
const { match = '', rally = '', who = 'a', footage = '' } = main.dataset;
const shot = Number(main.dataset.shot);
const atUs = Number(main.dataset.us);
const names = (main.dataset.names ?? '').split(',');
const API = `/api/matches/${encodeURIComponent(match)}/body`;

const picture = /** @type {SVGSVGElement} */ (/** @type {unknown} */ (need('#picture')));
const state = need('#state');
const rows = need('#rows');
const feetButton = need('#feet');
const bones = svg('g', { class: 'bones' });
const dots = svg('g', { class: 'dots' });
/** @type {Joint[]} */
let joints = [];
let wantsFeet = false;
let saves = 0;
let wantsNearer = false; // once the joints of somebody else are found
let size = 1; // px of the picture for one px of a small drawing: marks keep their size on the page
let whole = true;

const source = `/api/footage/${encodeURIComponent(footage)}/picture?us=${atUs}`;
const image = new Image();
image.addEventListener('load', () => {
  zoom(null);
  picture.append(svg('image', { href: source, width: image.naturalWidth, height: image.naturalHeight }), bones, dots);
  void load();
});
image.addEventListener('error', () => tell('The frame cannot be shown: its video is missing.'));
image.src = source;

/** Show all of the picture, or the part round the joints. @param {Joint[] | null} round */
function zoom(round) {
  const wide = image.naturalWidth;
  const high = image.naturalHeight;
  const found = (round ?? []).flatMap(({ u, v }) => (u === null || v === null ? [] : [{ u, v }]));
  whole = found.length < 3;
  let [x, y, across] = [0, 0, wide];
  if (!whole) {
    const us = found.map((one) => one.u);
    const vs = found.map((one) => one.v);
    const tall = Math.max(...vs) - Math.min(...vs);
    across = Math.min(wide, Math.max(2.4 * tall * wide / high, 1.6 * (Math.max(...us) - Math.min(...us)), 80) * 0.75);
    const down = across * high / wide;
    x = Math.min(Math.max(0, (Math.max(...us) + Math.min(...us) - across) / 2), wide - across);
    y = Math.min(Math.max(0, (Math.max(...vs) + Math.min(...vs) - down) / 2), high - down);
  }
  size = across / 640;
  picture.setAttribute('viewBox', `${x} ${y} ${across} ${across * high / wide}`);
  need('#whole').textContent = whole ? 'Zoom in' : 'Whole frame';
}

/** @param {string} words */
function tell(words) {
  state.textContent = words;
}

async function load() {
  const query = new URLSearchParams({ rally, who, shot: String(shot) });
  await take(() => ask(`${API}?${query}`));
  document.documentElement.dataset.ready = 'body';
}

/** @param {() => Promise<unknown>} asked */
async function take(asked) {
  try {
    draw(/** @type {Pose} */ (await asked()));
  } catch (error) {
    tell(failureWords(error, 'The server cannot be reached. Nothing was saved.'));
  }
}

need('#whole').addEventListener('click', () => {
  zoom(whole ? joints : null);
  redraw();
});

/** Bones and joints at the size of the part shown. */
function redraw() {
  bones.replaceChildren(...BONES.flatMap(([a, b]) => bone(visibleAt(a), visibleAt(b))));
  dots.replaceChildren(...joints.map((_, k) => dot(k)).filter((made) => made !== null));
}

/** @param {Place | null} a @param {Place | null} b */
function bone(a, b) {
  return a && b ? [svg('line', { x1: a.u, y1: a.v, x2: b.u, y2: b.v, 'stroke-width': 2 * size })] : [];
}

/** Where a joint is; null where it was not found. @param {number} k @returns {Place | null} */
function placeOf(k) {
  const { u = null, v = null } = joints[k] ?? {};
  return u === null || v === null ? null : { u, v };
}

/** Where a joint is that was seen. @param {number} k */
const visibleAt = (k) => (joints[k]?.seen ? placeOf(k) : null);

/** @param {Pose} form */
function draw(form) {
  const focused = document.activeElement?.getAttribute('data-joint');
  const first = !joints.length || wantsNearer;
  joints = form.joints;
  if (first) zoom(joints);
  wantsNearer = false;
  redraw();
  rows.replaceChildren(...form.angles.map(row));
  const missing = joints.filter((one) => !one.seen).length;
  if (!joints.length) tell('No player was found there. Click the feet of the player.');
  else tell(`${joints.length - missing} of ${joints.length} body points seen${form.corrected ? `, ${form.corrected} set by hand` : ''}.`);
  if (focused) /** @type {SVGElement | null} */ (dots.querySelector(`[data-joint="${focused}"]`))?.focus();
}

/** @param {number} k */
function dot(k) {
  const place = placeOf(k);
  if (place === null || (k < 5 && k !== 0)) return null;
  const one = joints[k];
  const made = svg('g', {
    class: `joint${one.seen ? '' : ' unseen'}${one.by_hand ? ' by-hand' : ''}`, tabindex: '0', role: 'button',
    'data-joint': k, 'aria-label': `${names[k]}${one.seen ? '' : ', not seen'}${one.by_hand ? ', set by hand' : ''}`,
  },
  svg('circle', { class: 'error', cx: place.u, cy: place.v, r: Math.max(4 * size, 2 * (one.error_px ?? 0)), 'stroke-width': size }),
  svg('circle', { class: 'place', cx: place.u, cy: place.v, r: 3.5 * size, 'stroke-width': 1.2 * size }));
  made.addEventListener('keydown', (event) => press(/** @type {KeyboardEvent} */ (event), k));
  made.addEventListener('pointerdown', (event) => drag(/** @type {PointerEvent} */ (event), k, made));
  return made;
}

/** @param {KeyboardEvent} event @param {number} k */
function press(event, k) {
  const step = event.shiftKey ? Math.max(0.3, size) : Math.max(1, 4 * size);
  const moves = /** @type {Record<string, number[]>} */ ({ ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] });
  const move = moves[event.key];
  const place = placeOf(k);
  if (move && place) {
    event.preventDefault();
    void keep(k, place.u + move[0], place.v + move[1]);
  } else if (event.key === 'Backspace') {
    event.preventDefault();
    void keep(k, null, null);
  }
}

/** @param {PointerEvent} event @param {number} k @param {SVGElement} made */
function drag(event, k, made) {
  if (wantsFeet) return;
  event.preventDefault();
  made.focus();
  made.setPointerCapture(event.pointerId);
  const follow = (/** @type {Event} */ now) => {
    const at = inPicture(/** @type {PointerEvent} */ (now));
    for (const circle of made.querySelectorAll('circle')) {
      circle.setAttribute('cx', String(at.u));
      circle.setAttribute('cy', String(at.v));
    }
  };
  const drop = (/** @type {Event} */ now) => {
    made.removeEventListener('pointermove', follow);
    const at = inPicture(/** @type {PointerEvent} */ (now));
    const before = placeOf(k);
    if (!before || Math.hypot(at.u - before.u, at.v - before.v) > size) void keep(k, at.u, at.v);
  };
  made.addEventListener('pointermove', follow);
  made.addEventListener('pointerup', drop, { once: true });
}

/** @param {MouseEvent} event */
function inPicture(event) {
  const box = picture.getBoundingClientRect();
  const view = picture.viewBox.baseVal;
  const scale = view.width / box.width;
  return { u: view.x + (event.clientX - box.left) * scale, v: view.y + (event.clientY - box.top) * scale };
}

/** @param {number} joint @param {number | null} u @param {number | null} v */
async function keep(joint, u, v) {
  if (u !== null && v !== null) Object.assign(joints[joint], { u, v });
  await take(() => ask(`${API}/joint`, { body: { rally, who, shot, at_us: atUs, joint, u, v } }));
  saves += 1;
  state.dataset.saved = String(saves);
}

feetButton.addEventListener('click', () => {
  wantsFeet = true;
  zoom(null);
  redraw();
  tell('Click between the feet of the player.');
});
picture.addEventListener('click', (event) => {
  if (!wantsFeet) return;
  wantsFeet = false;
  wantsNearer = true;
  tell('Looking for body points…');
  const at = inPicture(event);
  void take(() => ask(`${API}/feet`, { body: { rally, who, shot, ...at } }));
});

/** @param {import('../../lib/server/message-types.js').JointAngle} one */
function row(one) {
  const name = `${one.side} ${one.name}`.trim();
  if (one.degrees === null || one.error_degrees === null) return el('tr', {}, el('th', { scope: 'row' }, name), el('td', { colspan: 2, class: 'note' }, one.why));
  return el('tr', {}, el('th', { scope: 'row' }, name),
    el('td', { class: 'tab' }, String(Math.round(one.degrees))), el('td', { class: 'tab' }, String(Math.round(2 * one.error_degrees))));
}
