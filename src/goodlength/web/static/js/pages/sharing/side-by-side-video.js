// @ts-check
/* Two serves beside each other. One time for both, from contact; each picture is found in its own table of
   frames. Lines belong to the picture at contact: they are drawn there, and shown there only. */

import { ask, failureWords } from '../../lib/server/json-requests.js';
import { need, svg } from '../../lib/page/dom.js';
import { indexAt, inside_s, tableFrom } from '../../lib/video/frame-time-table.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { toggleTheme } from '../../lib/page/theme.js';

/** @typedef {import('../../lib/server/message-types.js').OverlayLine} Line @typedef {import('../../lib/server/message-types.js').Part} Part */

const begin = /** @type {import('../../lib/server/message-types.js').SideBySidePage} */ (JSON.parse(need('#serve-pair').dataset.begin ?? '{}'));
const SPEEDS = [1, 0.5, 0.25];
const SPEED_WORDS = ['', ', half speed', ', quarter speed'];
const NEEDED = { line: 2, arrow: 2, angle: 3 };
const APART_S = 0.03; // further than this the two have run apart, and the second is put right

class View {
  /** @param {HTMLElement} figure @param {number} n */
  constructor(figure, n) {
    this.figure = figure;
    this.video = /** @type {HTMLVideoElement} */ (need('video', figure));
    this.sheet = /** @type {SVGElement} */ (/** @type {unknown} */ (need('svg', figure)));
    /** @type {Part} */
    this.part = begin.parts.find((part) => begin.contacts_us[n] < part.starts_us + part.end_us - part.first_us) ?? begin.parts[0];
    this.marked_s = (begin.contacts_us[n] - this.part.starts_us + this.part.first_us - this.part.shift_us) / 1e6;
    this.nudge_us = begin.nudge_us[n];
    /** @type {Line[]} */
    this.lines = begin.lines[n];
    /** @type {import('../../lib/video/frame-time-table.js').Table | null} */
    this.table = null;
    this.video.addEventListener('error', () => {
      const trouble = need('.trouble', figure);
      trouble.hidden = false;
      trouble.textContent = 'This browser cannot play the video. Make a copy on the Footage page.';
    });
    this.video.addEventListener('loadedmetadata', () => {
      figure.style.aspectRatio = `${this.video.videoWidth} / ${this.video.videoHeight}`;
    });
  }

  async load() {
    const sent = await ask(`/api/footage/${encodeURIComponent(this.part.id)}/frames`);
    this.table = tableFrom(/** @type {import('../../lib/server/message-types.js').FrameTable} */ (sent));
    this.video.src = this.part.url;
  }

  get contact_s() {
    return this.marked_s + this.nudge_us / 1e6;
  }

  /** Seconds from contact of the picture shown. */
  get at_s() {
    return this.video.currentTime - this.contact_s;
  }

  /** The number of the picture shown a time from contact. @param {number} from_s */
  indexAt(from_s) {
    return this.table ? indexAt(this.table, this.contact_s + from_s) : 0;
  }

  /** @param {number} index */
  put(index) {
    if (this.table) this.video.currentTime = inside_s(this.table, index);
  }

  get usual_s() {
    return this.table?.usual_s ?? 0.04;
  }
}

const views = [...document.querySelectorAll('.view')].map((figure, n) => new View(/** @type {HTMLElement} */ (figure), n));
const [first, second] = views;
let mirrored = begin.mirrored;
let speed = 0;
let playing = false;
let step = 0; // pictures from contact, of the quicker film, while it stands
let tool = '';
/** @type {{view: View, points: [number, number][]} | null} */
let drawing = null;
let last = first;
/** @type {number | undefined} */
let due;

// ---- time

/** Both to a number of pictures from contact. @param {number} to */
function stand(to) {
  stop();
  const usual = Math.min(first.usual_s, second.usual_s);
  step = Math.max(-Math.round(begin.before_s / usual), Math.min(Math.round(begin.after_s / usual), to));
  for (const view of views) {
    // the picture on the screen at contact, and from there so many usual steps
    const contact = view.indexAt(1e-6);
    const by = Math.round((step * usual) / view.usual_s);
    view.put(contact + by);
  }
  draw();
}

function play() {
  if (playing) return stand(Math.round(first.at_s / Math.min(first.usual_s, second.usual_s)));
  playing = true;
  if (first.at_s > begin.after_s - 0.1 || step >= Math.round(begin.after_s / first.usual_s)) {
    for (const view of views) view.video.currentTime = Math.max(0, view.contact_s - begin.before_s);
  }
  for (const view of views) {
    view.video.playbackRate = SPEEDS[speed];
    view.video.play().catch(() => stop());
  }
  requestAnimationFrame(follow);
  draw();
}

function stop() {
  playing = false;
  for (const view of views) view.video.pause();
}

function follow() {
  if (!playing) return;
  const at = first.at_s;
  if (Math.abs(second.at_s - at) > APART_S && !second.video.seeking) second.video.currentTime = second.contact_s + at;
  if (at >= begin.after_s || first.video.ended) return stand(Math.round(begin.after_s / Math.min(first.usual_s, second.usual_s)));
  when(at);
  requestAnimationFrame(follow);
}

/** @param {number} at_s */
function when(at_s) {
  const hundredths = Math.round(Math.abs(at_s) * 100);
  const words = hundredths < 1 ? 'At contact' : `${(hundredths / 100).toFixed(2)} s ${at_s < 0 ? 'before' : 'after'} contact`;
  need('#when').textContent = words;
  need('#speed-words').textContent = SPEED_WORDS[speed];
}

/** @param {number} n @param {number} by */
function nudge(n, by) {
  const view = views[n];
  const to = view.nudge_us + Math.round(by * view.usual_s * 1e6);
  if (Math.abs(to) > 2e6) return;
  view.nudge_us = to;
  keep();
  stand(step);
}

// ---- drawing

/** @param {string} kind */
function take(kind) {
  tool = tool === kind ? '' : kind;
  drawing = null;
  if (tool) stand(0);
  draw();
}

/** @param {View} view @param {MouseEvent} event */
function click(view, event) {
  if (!tool) return;
  const box = view.figure.getBoundingClientRect();
  const inside = (/** @type {number} */ v) => Math.max(0, Math.min(1, v));
  /** @type {[number, number]} */
  const at = [inside((event.clientX - box.left) / box.width), inside((event.clientY - box.top) / box.height)];
  if (!drawing || drawing.view !== view) drawing = { view, points: [] };
  drawing.points.push(at);
  if (drawing.points.length === NEEDED[/** @type {keyof typeof NEEDED} */ (tool)]) {
    view.lines.push({ kind: tool, points: drawing.points });
    last = view;
    drawing = null;
    keep();
  }
  draw();
}

function undo() {
  if (drawing) drawing = null;
  else {
    const view = last.lines.length ? last : views.find((one) => one.lines.length);
    if (!view) return;
    view.lines.pop();
    keep();
  }
  draw();
}

function draw() {
  const usual = Math.min(first.usual_s, second.usual_s);
  if (!playing) when(step * usual);
  need('#mirror').setAttribute('aria-pressed', String(mirrored));
  second.figure.classList.toggle('turned', mirrored);
  for (const button of document.querySelectorAll('[data-action][aria-pressed]')) {
    if (button.id !== 'mirror') button.setAttribute('aria-pressed', String(button.getAttribute('data-action') === tool));
  }
  views.forEach((view, n) => {
    view.figure.classList.toggle('drawing', Boolean(tool));
    const by = Math.round(view.nudge_us / 1e6 / view.usual_s);
    const frames = `${Math.abs(by)} ${Math.abs(by) === 1 ? 'frame' : 'frames'}`;
    need('.nudge', /** @type {HTMLElement} */ (document.querySelectorAll('.side')[n])).textContent = by ? `${frames} ${by < 0 ? 'earlier' : 'later'}` : 'as set';
    const { clientWidth: wide, clientHeight: high } = view.figure;
    view.sheet.setAttribute('viewBox', `0 0 ${wide} ${high}`);
    const shown = !playing && step === 0 ? view.lines.flatMap((line) => shape(line, wide, high)) : [];
    if (drawing?.view === view) shown.push(...drawing.points.map(([x, y]) => svg('circle', { class: 'spot', cx: x * wide, cy: y * high, r: 5 })));
    view.sheet.replaceChildren(...shown);
  });
  const words = { '': 'Choose line, arrow or angle, then click the points (for an angle: end, corner, end).', line: 'Click both ends.', arrow: 'Click where it begins, then its tip.', angle: 'Click one arm, the corner, the other arm.' };
  need('#draw-words').textContent = words[/** @type {keyof typeof words} */ (tool)];
}

/** @param {Line} line @param {number} wide @param {number} high @returns {SVGElement[]} */
function shape(line, wide, high) {
  const points = line.points.map(([x, y]) => [x * wide, y * high]);
  let path = points.map(([x, y], n) => `${n ? 'L' : 'M'}${x} ${y}`).join('');
  /** @type {SVGElement[]} */
  const more = [];
  if (line.kind === 'arrow') {
    const [[ax, ay], [bx, by]] = points;
    const away = Math.atan2(ay - by, ax - bx);
    const barb = (/** @type {number} */ turn) => `${bx + 16 * Math.cos(away + turn)} ${by + 16 * Math.sin(away + turn)}`;
    path += `M${barb(0.45)}L${bx} ${by}L${barb(-0.45)}`;
  } else if (line.kind === 'angle') {
    const [[ax, ay], [x, y], [bx, by]] = points;
    const turn = Math.atan2((ax - x) * (by - y) - (ay - y) * (bx - x), (ax - x) * (bx - x) + (ay - y) * (by - y));
    const radius = 28;
    const end = (/** @type {number} */ u, /** @type {number} */ v) => {
      const long = Math.hypot(u - x, v - y) || 1;
      return `${x + (radius * (u - x)) / long} ${y + (radius * (v - y)) / long}`;
    };
    path += `M${end(ax, ay)}A${radius} ${radius} 0 0 ${turn > 0 ? 1 : 0} ${end(bx, by)}`;
    const degrees = `${Math.round((Math.abs(turn) * 180) / Math.PI)}°`;
    const left = Math.min(x + 32, wide - 50);
    const top = Math.max(26, Math.min(y - 12, high - 8));
    more.push(svg('rect', { class: 'plate', x: left - 5, y: top - 17, width: 9.5 * degrees.length + 10, height: 23 }), svg('text', { x: left, y: top }, degrees));
  }
  return [svg('path', { class: 'case', d: path }), svg('path', { class: 'ink', d: path }), ...more];
}

// ---- keeping

function keep() {
  clearTimeout(due);
  due = setTimeout(() => void send(), 250);
}

async function send() {
  const body = { rallies: begin.rallies, nudge_us: views.map((one) => one.nudge_us), mirrored, lines: views.map((one) => one.lines) };
  try {
    await ask(`/api/matches/${encodeURIComponent(begin.match)}/beside`, { body });
    document.documentElement.dataset.saved = JSON.stringify(body.lines.map((one) => one.length));
  } catch (error) {
    need('#draw-words').textContent = failureWords(error, 'The connection dropped. The last drawing was not saved. Change something to try again.');
  }
}

views.forEach((view) => view.figure.addEventListener('click', (event) => click(view, event)));
for (const select of document.querySelectorAll('.choose select')) {
  select.addEventListener('change', () => /** @type {HTMLFormElement} */ (select.closest('form')).submit());
}
addEventListener('resize', draw);
listen({
  play,
  'frame-back': () => stand(step - 1),
  'frame-on': () => stand(step + 1),
  contact: () => stand(0),
  speed: () => {
    speed = (speed + 1) % SPEEDS.length;
    for (const view of views) view.video.playbackRate = SPEEDS[speed];
    if (!playing) draw();
  },
  mirror: () => {
    mirrored = !mirrored;
    keep();
    draw();
  },
  'first-earlier': () => nudge(0, -1),
  'first-later': () => nudge(0, 1),
  'second-earlier': () => nudge(1, -1),
  'second-later': () => nudge(1, 1),
  line: () => take('line'),
  arrow: () => take('arrow'),
  angle: () => take('angle'),
  undo,
  room: () => void toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});
await Promise.all(views.map((one) => one.load()));
await Promise.all(views.map((one) => new Promise((done) => (one.video.readyState >= 1 ? done(0) : (one.video.addEventListener('loadedmetadata', done, { once: true }), one.video.addEventListener('error', done, { once: true }))))));
stand(0);
document.documentElement.dataset.ready = 'side-by-side';
