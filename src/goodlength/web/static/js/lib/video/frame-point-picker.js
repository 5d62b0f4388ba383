// @ts-check
/* One picture of a film on which places are set: stepping through pictures, a cross moved by pointer or keys,
   a glass that enlarges what is round it, and a layer to draw on. Places are px of the film's own picture. */

import { ask, failureWords } from '../server/json-requests.js';
import { need, svg } from '../page/dom.js';
import { clockWords, readTime } from '../page/time-and-score-format.js';
import { listen } from '../page/keyboard-shortcuts.js';
import { arrowStep } from './point-sequence.js';
import { toggleTheme } from '../page/theme.js';

/** @typedef {{u: number, v: number}} Spot */

const GLASS = 8;
const WINDOW_US = 6_000_000;

export class PointPicker {
  /**
   * @param {HTMLElement} figure
   * @param {import('../server/message-types.js').PickedFile} film
   * @param {{placed: (spot: Spot) => void, moved: () => void, shown: () => void}} calls
   */
  constructor(figure, film, calls) {
    this.figure = figure;
    this.film = film;
    this.calls = calls;
    this.image = /** @type {HTMLImageElement} */ (need('img', figure));
    this.sheet = /** @type {SVGElement} */ (/** @type {unknown} */ (need('svg', figure)));
    this.glass = /** @type {HTMLCanvasElement | null} */ (document.querySelector('#glass'));
    this.layer = svg('g');
    this.crossLayer = svg('g');
    const [w, h] = film.size;
    this.sheet.setAttribute('viewBox', `0 0 ${w} ${h}`);
    this.sheet.append(this.layer, this.crossLayer);
    figure.style.aspectRatio = `${w} / ${h}`;
    figure.style.maxWidth = `calc(max(300px, 100vh - 300px) * ${w / h})`;
    /** @type {Spot} */
    this.cross = { u: w / 2, v: h / 2 };
    this.us = -1;
    /** @type {number[]} */
    this.starts = [];
    this.wanted = 0;
    figure.addEventListener('pointermove', (event) => this.#magnify(this.spotOf(event)));
    figure.addEventListener('pointerleave', () => this.#magnify(this.cross));
    figure.addEventListener('click', (event) => {
      this.cross = this.spotOf(event);
      figure.focus({ preventScroll: true });
      this.calls.placed({ ...this.cross });
    });
    new ResizeObserver(() => this.calls.moved()).observe(figure);
  }

  /** Pixels of the film to one of the screen. */
  get scale() {
    return this.film.size[0] / Math.max(1, this.figure.clientWidth);
  }

  /** @param {MouseEvent} event @returns {Spot} */
  spotOf(event) {
    const box = this.figure.getBoundingClientRect();
    const [w, h] = this.film.size;
    const u = ((event.clientX - box.left) / box.width) * w;
    const v = ((event.clientY - box.top) / box.height) * h;
    return { u: Math.round(Math.min(Math.max(u, 0), w) * 10) / 10, v: Math.round(Math.min(Math.max(v, 0), h) * 10) / 10 };
  }

  /** Show the picture of a moment. @param {number} us media time */
  async show(us) {
    const mine = ++this.wanted;
    const at = Math.min(Math.max(Math.round(us), this.film.first_us), this.film.end_us - 1);
    await this.#know(at);
    const start = this.starts.findLast((start_us) => start_us <= at) ?? this.starts[0] ?? at;
    const next = new Image();
    next.src = this.#address(start);
    try {
      await next.decode();
    } catch {
      if (mine !== this.wanted) return;
      this.#trouble(await this.#whyNot(at));
      return;
    }
    if (mine !== this.wanted) return;
    this.#trouble('');
    this.image.src = next.src;
    this.image.alt = `Frame at ${clockWords(start)}`;
    this.us = start;
    this.#magnify(this.cross);
    this.calls.shown();
    for (const by of [1, -1]) {
      const near = this.starts[this.starts.indexOf(start) + by];
      if (near !== undefined) new Image().src = this.#address(near);
    }
  }

  /** Why a picture could not be fetched, in the server's words where it has any. @param {number} us */
  async #whyNot(us) {
    const otherwise = 'This frame could not be loaded. Go to the next one, or reload the page.';
    try {
      await ask(`/api/footage/${encodeURIComponent(this.film.footage)}/times?from_us=${us}&until_us=${us + 1}`);
      return otherwise;
    } catch (error) {
      return failureWords(error, otherwise);
    }
  }

  /** Step through pictures. @param {number} by */
  async step(by) {
    await this.#know(this.us);
    const at = this.starts.indexOf(this.us) + by;
    if (at >= 0 && at < this.starts.length) await this.show(this.starts[at]);
  }

  /** How long pictures are round here, microseconds. */
  get frameUs() {
    const at = Math.max(1, this.starts.indexOf(this.us));
    return this.starts.length > 1 ? this.starts[at] - this.starts[at - 1] : 40_000;
  }

  /** @param {number} du @param {number} dv */
  nudge(du, dv) {
    this.put({ u: this.cross.u + du, v: this.cross.v + dv });
  }

  /** Put the cross somewhere. @param {Spot} spot */
  put(spot) {
    const [w, h] = this.film.size;
    this.cross = { u: Math.min(Math.max(spot.u, 0), w), v: Math.min(Math.max(spot.v, 0), h) };
    this.#magnify(this.cross);
    this.calls.moved();
  }

  /** Draw the cross where it stands. */
  drawCross() {
    const { u, v } = this.cross;
    const long = 15 * this.scale;
    const gap = 4 * this.scale;
    const d = `M${u - long} ${v}H${u - gap}M${u + gap} ${v}H${u + long}M${u} ${v - long}V${v - gap}M${u} ${v + gap}V${v + long}`;
    this.crossLayer.replaceChildren(svg('path', { class: 'cross-case', d }), svg('path', { class: 'cross', d }));
  }

  /** @param {number} us */
  #address(us) {
    return `/api/footage/${encodeURIComponent(this.film.footage)}/picture?us=${us}`;
  }

  /** @param {string} words */
  #trouble(words) {
    const place = need('.trouble', this.figure);
    place.textContent = words;
    place.hidden = !words;
  }

  /** Know the pictures round a moment. @param {number} us */
  async #know(us) {
    const last = this.starts[this.starts.length - 1];
    const inside = this.starts.length && us >= this.starts[0] + 500_000 && us <= last - 500_000;
    const atEdge = this.starts.length && ((us < this.starts[0] + 500_000 && this.starts[0] <= this.film.first_us) || (us > last - 500_000 && last >= this.film.end_us - 1_000_000));
    if (inside || (atEdge && us >= this.starts[0] && us <= this.film.end_us)) return;
    const from = Math.max(this.film.first_us, us - WINDOW_US);
    const path = `/api/footage/${encodeURIComponent(this.film.footage)}/times?from_us=${from}&until_us=${us + WINDOW_US}`;
    this.starts = /** @type {import('../server/message-types.js').FrameTimes} */ (await ask(path)).starts_us;
  }

  /** Enlarge what is round a place. @param {Spot} spot */
  #magnify(spot) {
    if (!this.glass || !this.image.complete || !this.image.naturalWidth) return;
    const pen = this.glass.getContext('2d');
    if (!pen) return;
    const side = this.glass.width;
    const part = side / GLASS;
    pen.imageSmoothingEnabled = false;
    pen.fillStyle = '#101417';
    pen.fillRect(0, 0, side, side);
    pen.drawImage(this.image, spot.u - part / 2, spot.v - part / 2, part, part, 0, 0, side, side);
    const middle = side / 2;
    for (const [colour, width] of /** @type {[string, number][]} */ ([['#101417', 4], ['#F4D03F', 1.6]])) {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.beginPath();
      pen.moveTo(0, middle);
      pen.lineTo(middle - 14, middle);
      pen.moveTo(middle + 14, middle);
      pen.lineTo(side, middle);
      pen.moveTo(middle, 0);
      pen.lineTo(middle, middle - 14);
      pen.moveTo(middle, middle + 14);
      pen.lineTo(middle, side);
      pen.stroke();
    }
  }
}

/**
 * The whole court as it lies in the picture. @param {import('../server/message-types.js').CourtLine[]} strokes
 * @returns {SVGElement[]}
 */
export function courtOver(strokes) {
  const paths = [];
  for (const kind of ['case', 'over']) {
    for (const one of strokes) {
      const d = `M${one.uv.map(([u, v]) => `${u} ${v}`).join('L')}${one.closed ? 'Z' : ''}`;
      if (kind === 'over' || one.what !== 'fold') paths.push(svg('path', { class: `${kind} ${one.what}`, d }));
    }
  }
  return paths;
}

/** A point that is set, as a cross. @param {Spot} spot @param {number} scale px of the film to one of the screen */
export function crossAt({ u, v }, scale) {
  const arm = 7 * scale;
  return `M${u - arm} ${v - arm}L${u + arm} ${v + arm}M${u - arm} ${v + arm}L${u + arm} ${v - arm}`;
}

/** Say when the picture shown is: in its caption, and in the field where a time can be typed. @param {number} us */
export function showTime(us) {
  need('#caption').textContent = clockWords(us);
  const time = /** @type {HTMLInputElement} */ (need('#time'));
  if (document.activeElement !== time) time.value = clockWords(us);
}

/** Put words into the page's state line. @param {string} words */
export function tell(words) {
  need('#state').textContent = words;
}

/**
 * Let keys, buttons and the field of time work on a list of points.
 * @param {import('./point-sequence.js').PointList} points @param {PointPicker} picker
 * @param {string} rows  the list in which arrow keys keep their own meaning
 * @param {Record<string, () => void>} actions  those of this page alone
 */
export function connectPoints(points, picker, rows, actions) {
  need('#time').addEventListener('change', (event) => {
    const us = readTime(/** @type {HTMLInputElement} */ (event.target).value);
    if (us !== null) void picker.show(us);
    else tell('Enter minutes and seconds, such as 1:02.5.');
  });
  // Arrow keys held down move on; `listen` lets only its own few keys repeat.
  document.addEventListener('keydown', (event) => {
    const step = arrowStep(event);
    if (!step || event.ctrlKey || event.metaKey || event.altKey) return;
    const target = event.target instanceof Element ? event.target : null;
    if (target?.closest(`input, select, textarea, dialog, ${rows}`) && target !== document.body) return;
    event.preventDefault();
    points.nudge(...step);
  });
  listen({
    set: () => {
      if (!points.setHere()) tell('The cross is still on the previous mark. Move it with the arrow keys, or click.');
    },
    clear: () => points.clear(),
    'mark-after': () => points.take(points.hand + 1),
    'mark-before': () => points.take(points.hand - 1),
    'frame-back': () => void picker.step(-1),
    'frame-on': () => void picker.step(1),
    room: () => void toggleTheme(),
    help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
    ...actions,
  });
}
