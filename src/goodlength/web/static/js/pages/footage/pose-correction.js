// @ts-check
/* Joints at a strike, over the frame of the player: dragged or moved by keys, saved at once, angles beside. */

import { ask, failureWords } from '../../lib/server/json-requests.js';
import { el, need, svg } from '../../lib/page/dom.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { BONES } from '../../lib/player/court-overlay.js';
import { ExactFrame } from '../../lib/player/exact-frame.js';
import { LARGEST, clamped } from '../../lib/player/picture-view.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';

/** @typedef {import('../../lib/server/message-types.js').Joint} Joint @typedef {import('../../lib/server/message-types.js').Pose} Pose */
/** @typedef {{u: number, v: number}} Place  px of the picture */

const AROUND_US = 1_500_000; // of the timeline before and after contact
const TWO_SECONDS = 2_000_000;
const MISSING = 'The frame cannot be shown: its video is missing.';
const TO_FEET = 'Click between the feet of the player, or move the cross with the arrow keys and press Enter. Escape: leave it.';
const main = need('#main');
const { match = '', rally = '', who = 'a', footage = '' } = main.dataset;
const shot = Number(main.dataset.shot);
const atUs = Number(main.dataset.us);
const names = (main.dataset.names ?? '').split(',');
const API = `/api/matches/${encodeURIComponent(match)}/body`;

const state = need('#state');
const rows = need('#rows');
const wholeButton = need('#whole');
/** @type {Joint[]} */
let joints = [];
let saves = 0;
let wantsNearer = false; // once the joints of somebody else are found
/** @type {Place | null} where the feet are said to be, while they are asked for */
let cross = null;

const image = new Image();
image.src = `/api/footage/${encodeURIComponent(footage)}/picture?us=${atUs}`;
const { parts } = /** @type {import('../../lib/server/message-types.js').Files} */ (await ask(`/api/matches/${encodeURIComponent(match)}/films`));
const part = parts.find((one) => one.id === footage);
await image.decode().catch(() => undefined);
if (part && image.naturalWidth) await begin(part);
else tell(MISSING);
document.documentElement.dataset.ready = 'body';

/** @param {string} words */
function tell(words) {
  state.textContent = words;
}

/** Where a joint is; null where it was not found. @param {number} k @returns {Place | null} */
function placeOf(k) {
  const { u = null, v = null } = joints[k] ?? {};
  return u === null || v === null ? null : { u, v };
}

/** Where a joint is that was seen. @param {number} k */
function visibleAt(k) {
  return joints[k]?.seen ? placeOf(k) : null;
}

/** @param {import('../../lib/server/message-types.js').JointAngle} one */
function row(one) {
  const name = `${one.side} ${one.name}`.trim();
  if (one.degrees === null || one.error_degrees === null) return el('tr', {}, el('th', { scope: 'row' }, name), el('td', { colspan: 2, class: 'note' }, one.why));
  return el('tr', {}, el('th', { scope: 'row' }, name),
    el('td', { class: 'tab' }, String(Math.round(one.degrees))), el('td', { class: 'tab' }, String(Math.round(2 * one.error_degrees))));
}

/** The player of the file that shows the strike, and the joints over its frame. @param {import('../../lib/server/message-types.js').Part} film */
async function begin(film) {
  const size = { width: image.naturalWidth, height: image.naturalHeight };
  const contactUs = atUs - film.first_us + film.starts_us; // match time
  const figure = need('#frame');
  figure.style.aspectRatio = `${size.width} / ${size.height}`;
  const bones = svg('g', { class: 'bones' });
  const dots = svg('g', { class: 'dots' });
  const crossLayer = svg('g');
  const sheet = svg('svg', { class: 'body-marks', viewBox: `0 0 ${size.width} ${size.height}`, role: 'group', 'aria-label': 'Body points' }, bones, dots, crossLayer);

  const player = new VideoPlayer(figure, [film], () => {
    const trouble = need('#trouble');
    trouble.hidden = player.problems.length === 0 || frame?.isShown === true;
    if (!trouble.hidden) trouble.textContent = 'This browser cannot play the video: its frames are shown one by one. A copy made on the Footage page plays.';
  });
  const controls = new PlayerControls(player, {
    match,
    hidesDrawings: true,
    rally: () => null,
    window: () => ({ start_us: Math.max(film.starts_us, contactUs - AROUND_US), end_us: Math.min(player.endUs, contactUs + AROUND_US) }),
    size: () => size,
    tell,
    pressed: (event) => {
      if (!cross || player.playing) return false;
      void takeFeet(inPicture(event));
      return true;
    },
    zoomed: () => redraw(),
  });
  const { view } = controls;
  view.over.append(sheet);
  let contactFrame = -1; // media time of the frame that shows contact
  /** @type {ExactFrame} */
  const frame = new ExactFrame(controls, { footage, part: film, size: [size.width, size.height], first_us: film.first_us, end_us: film.end_us, at_us: atUs }, {
    shown: () => showMarks(),
    trouble: (words) => words && tell(words),
  });
  player.listeners.add(() => showMarks());

  /** Body points belong to the frame of contact alone. */
  function showMarks() {
    sheet.toggleAttribute('hidden', !(frame.isShown && frame.us === contactFrame));
  }

  /** Pixels of the film to one of the screen: marks keep their size on the page. */
  const scale = () => size.width / Math.max(1, view.over.getBoundingClientRect().width);

  /** @param {MouseEvent} event @returns {Place} */
  function inPicture(event) {
    const [x, y] = view.placeOf(event);
    return { u: x * size.width, v: y * size.height };
  }

  /** Enlarge the body; the whole frame where none was found. */
  function toBody() {
    view.fit();
    const found = joints.flatMap(({ u, v }) => (u === null || v === null ? [] : [view.placeInFrame(u / size.width, v / size.height)]));
    if (found.length < 3) return view.zoom.whole();
    const [xs, ys] = [found.map(({ x }) => x), found.map(({ y }) => y)];
    const [left, right, top, bottom] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
    const box = view.zoom.size;
    const larger = Math.max(1, Math.min(LARGEST, box.width / (1.6 * (right - left)), box.height / (1.6 * (bottom - top))));
    return view.zoom.set(clamped({ scale: larger, x: box.width / 2 - (larger * (left + right)) / 2, y: box.height / 2 - (larger * (top + bottom)) / 2 }, box));
  }

  /** Bones and joints at the size of the part shown. */
  function redraw() {
    const by = scale();
    const focused = document.activeElement?.getAttribute('data-joint');
    bones.replaceChildren(...BONES.flatMap(([a, b]) => bone(visibleAt(a), visibleAt(b), by)));
    dots.replaceChildren(...joints.map((_, k) => dot(k, by)).filter((made) => made !== null));
    if (focused) /** @type {SVGElement | null} */ (dots.querySelector(`[data-joint="${focused}"]`))?.focus();
    drawCross(by);
    const words = view.zoom.view.scale > 1.01 ? 'Whole frame' : 'Zoom in';
    if (wholeButton.textContent !== words) wholeButton.textContent = words;
  }

  /** @param {Place | null} a @param {Place | null} b @param {number} by */
  function bone(a, b, by) {
    return a && b ? [svg('line', { x1: a.u, y1: a.v, x2: b.u, y2: b.v, 'stroke-width': 2 * by })] : [];
  }

  /** @param {number} k @param {number} by */
  function dot(k, by) {
    const place = placeOf(k);
    if (place === null || (k < 5 && k !== 0)) return null;
    const one = joints[k];
    const made = svg('g', {
      class: `joint${one.seen ? '' : ' unseen'}${one.by_hand ? ' by-hand' : ''}`, tabindex: '0', role: 'button',
      'data-joint': k, 'aria-label': `${names[k]}${one.seen ? '' : ', not seen'}${one.by_hand ? ', set by hand' : ''}`,
    },
    svg('circle', { class: 'reach', cx: place.u, cy: place.v, r: 12 * by }), // wide enough for a finger
    svg('circle', { class: 'error', cx: place.u, cy: place.v, r: Math.max(4 * by, 2 * (one.error_px ?? 0)), 'stroke-width': by }),
    svg('circle', { class: 'place', cx: place.u, cy: place.v, r: 4 * by, 'stroke-width': 1.2 * by }));
    made.addEventListener('keydown', (event) => press(/** @type {KeyboardEvent} */ (event), k));
    made.addEventListener('pointerdown', (event) => drag(/** @type {PointerEvent} */ (event), k, made));
    return made;
  }

  /** @param {KeyboardEvent} event @param {number} k */
  function press(event, k) {
    const step = event.shiftKey ? Math.max(0.3, scale()) : Math.max(1, 4 * scale());
    const move = stepOf(event.key, step);
    const place = placeOf(k);
    if (move && place) void keep(k, place.u + move[0], place.v + move[1]);
    else if (event.key === 'Backspace') void keep(k, null, null);
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  /** @param {PointerEvent} event @param {number} k @param {SVGElement} made */
  function drag(event, k, made) {
    if (cross) return;
    event.preventDefault();
    event.stopPropagation(); // neither moved nor pressed: the picture stays
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
      if (!before || Math.hypot(at.u - before.u, at.v - before.v) > scale()) void keep(k, at.u, at.v);
    };
    made.addEventListener('pointermove', follow);
    made.addEventListener('pointerup', drop, { once: true });
  }

  /** @param {number} joint @param {number | null} u @param {number | null} v */
  async function keep(joint, u, v) {
    if (u !== null && v !== null) Object.assign(joints[joint], { u, v });
    await take(() => ask(`${API}/joint`, { body: { rally, who, shot, at_us: atUs, joint, u, v } }));
    saves += 1;
    state.dataset.saved = String(saves);
  }

  /** @param {() => Promise<unknown>} asked */
  async function take(asked) {
    try {
      draw(/** @type {Pose} */ (await asked()));
    } catch (error) {
      tell(failureWords(error, 'The server cannot be reached. Nothing was saved.'));
    }
  }

  /** @param {Pose} form */
  function draw(form) {
    const first = !joints.length || wantsNearer;
    joints = form.joints;
    if (first) toBody();
    wantsNearer = false;
    redraw();
    rows.replaceChildren(...form.angles.map(row));
    const missing = joints.filter((one) => !one.seen).length;
    if (!joints.length) tell('No player was found there. Press “Wrong player?” and show their feet.');
    else tell(`${joints.length - missing} of ${joints.length} body points seen${form.corrected ? `, ${form.corrected} set by hand` : ''}.`);
  }

  // ---- whose feet

  /** @param {Place | null} place */
  function askFeet(place) {
    cross = place;
    view.zoom.keys = place === null;
    drawCross(scale());
  }

  /** @param {number} by */
  function drawCross(by) {
    if (!cross) return crossLayer.replaceChildren();
    const { u, v } = cross;
    const [long, gap] = [15 * by, 4 * by];
    const d = `M${u - long} ${v}H${u - gap}M${u + gap} ${v}H${u + long}M${u} ${v - long}V${v - gap}M${u} ${v + gap}V${v + long}`;
    return crossLayer.replaceChildren(svg('path', { class: 'cross-case', d, 'stroke-width': 4.5 * by }), svg('path', { class: 'cross', d, 'stroke-width': 2 * by }));
  }

  /** @param {Place} at */
  async function takeFeet(at) {
    if (!(frame.isShown && frame.us === contactFrame)) { // feet of another moment are no feet of this one
      await toContact();
      tell(`This is the frame of contact. ${TO_FEET}`);
      return;
    }
    askFeet(null);
    wantsNearer = true;
    tell('Looking for body points…');
    await take(() => ask(`${API}/feet`, { body: { rally, who, shot, ...at } }));
  }

  need('#feet').addEventListener('click', () => void (async () => {
    await toContact();
    view.zoom.whole();
    askFeet({ u: size.width / 2, v: size.height * 0.7 });
    figure.focus({ preventScroll: true });
    tell(TO_FEET);
  })());
  figure.addEventListener('keydown', (event) => {
    if (!cross || event.target !== figure) return;
    const move = stepOf(event.key, (event.shiftKey ? 1 : 8) * scale());
    if (move) askFeet({ u: Math.min(Math.max(cross.u + move[0], 0), size.width), v: Math.min(Math.max(cross.v + move[1], 0), size.height) });
    else if (event.key === 'Enter') void takeFeet(cross);
    else if (event.key === 'Escape') {
      askFeet(null);
      tell('');
    } else return;
    event.preventDefault();
    event.stopPropagation();
  });

  // ---- going about

  async function toContact() {
    if (contactFrame < 0 || frame.us !== contactFrame || !frame.isShown) await frame.show(atUs);
    contactFrame = frame.us;
    showMarks();
  }

  wholeButton.addEventListener('click', () => (view.zoom.view.scale > 1.01 ? view.zoom.whole() : toBody()));
  listen({
    ...controls.actions,
    'frame-back': () => void frame.step(-1),
    'frame-on': () => void frame.step(1),
    earlier: () => controls.seek(player.nowUs - TWO_SECONDS),
    later: () => controls.seek(player.nowUs + TWO_SECONDS),
    again: () => void toContact(),
    room: () => void toggleTheme(),
    help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
  });
  await toContact();
  await take(() => ask(`${API}?${new URLSearchParams({ rally, who, shot: String(shot) })}`));
}

/** How far an arrow key moves; null for another key. @param {string} key @param {number} step @returns {[number, number] | null} */
function stepOf(key, step) {
  return /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] })[key] ?? null;
}
