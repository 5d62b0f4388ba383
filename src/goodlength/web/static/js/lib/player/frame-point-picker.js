// @ts-check
/* Places set on a frame of the player: a cross moved by pointer or keys, a glass that enlarges what is round it,
   and a layer to draw on. Places are px of the film's own picture, however much it is enlarged. */

import { el, need, svg } from '../page/dom.js';
import { clockWords, readTime } from '../page/time-and-score-format.js';
import { listen } from '../page/keyboard-shortcuts.js';
import { arrowStep } from '../video/point-sequence.js';
import { VideoPlayer } from '../video/multi-file-player.js';
import { toggleTheme } from '../page/theme.js';
import { ExactFrame } from './exact-frame.js';
import { PlayerControls } from './player-controls.js';

/** @typedef {{u: number, v: number}} Spot @typedef {import('../video/rally-timeline.js').Span} Span */

const GLASS = 8;
const CANNOT_PLAY = 'This browser cannot play the video: its frames are shown one by one. A copy made on the Footage page plays.';
const NARROW = matchMedia('(max-width: 1180px)');

export class PointPicker {
  /**
   * @param {import('../server/message-types.js').PickedFile} film
   * @param {{match: string, window: () => Span, rally?: () => Span | null}} page  what the timeline spans, in match time
   * @param {{placed: (spot: Spot) => void, moved: () => void, shown: () => void}} calls
   */
  constructor(film, page, calls) {
    this.film = film;
    this.calls = calls;
    this.problemsShown = 0;
    const [w, h] = film.size;
    this.figure = need('#frame');
    this.figure.style.aspectRatio = `${w} / ${h}`;
    this.figure.style.maxWidth = `calc(max(300px, 100vh - 356px) * ${w / h})`;
    this.player = new VideoPlayer(this.figure, [film.part], () => this.#played());
    this.controls = new PlayerControls(this.player, {
      match: page.match,
      hidesDrawings: true,
      rally: page.rally ?? (() => null),
      window: page.window,
      size: () => ({ width: w, height: h }),
      tell,
      pressed: (event) => this.#press(event),
      zoomed: () => this.calls.moved(),
    });
    this.view = this.controls.view;
    this.view.zoom.keys = false; // arrow keys move the cross; the picture follows it
    this.view.zoom.middle = () => this.view.placeInFrame(this.cross.u / w, this.cross.v / h);
    this.caption = el('p', { class: 'in-hand-caption', 'aria-hidden': 'true' });
    this.figure.append(this.caption);
    this.frame = new ExactFrame(this.controls, film, {
      shown: () => {
        this.#magnify(this.cross);
        this.calls.shown();
      },
      trouble: (words) => {
        need('#trouble').textContent = words;
        need('#trouble').hidden = !words;
      },
    });
    this.glass = /** @type {HTMLCanvasElement | null} */ (document.querySelector('#glass'));
    this.layer = svg('g');
    this.crossLayer = svg('g');
    const sheet = svg('svg', { class: 'picks', viewBox: `0 0 ${w} ${h}`, 'aria-hidden': 'true' }, this.layer, this.crossLayer);
    this.view.over.append(sheet);
    /** @type {Spot} */
    this.cross = { u: w / 2, v: h / 2 };
    this.figure.addEventListener('pointermove', (event) => this.#magnify(this.spotOf(event)));
    this.figure.addEventListener('pointerleave', () => this.#magnify(this.cross));
    this.#placeGlass();
    NARROW.addEventListener('change', () => this.#placeGlass());
  }

  /** Media time of the frame shown. */
  get us() {
    return this.frame.us;
  }

  /** Pixels of the film to one of the screen. */
  get scale() {
    return this.film.size[0] / Math.max(1, this.view.over.getBoundingClientRect().width);
  }

  /** @param {MouseEvent} event @returns {Spot} */
  spotOf(event) {
    const box = this.view.over.getBoundingClientRect();
    const [w, h] = this.film.size;
    const place = (/** @type {number} */ share, /** @type {number} */ size) => Math.round(Math.min(Math.max(share, 0), 1) * size * 100) / 100;
    return { u: place((event.clientX - box.left) / box.width, w), v: place((event.clientY - box.top) / box.height, h) };
  }

  /** Show the frame of a moment. @param {number} us media time */
  show(us) {
    return this.frame.show(us);
  }

  /** @param {number} by */
  step(by) {
    return this.frame.step(by);
  }

  /** @param {number} du @param {number} dv */
  nudge(du, dv) {
    this.put({ u: this.cross.u + du, v: this.cross.v + dv });
  }

  /** Put the cross somewhere, and let the picture follow it. @param {Spot} spot */
  put(spot) {
    const [w, h] = this.film.size;
    this.cross = { u: Math.min(Math.max(spot.u, 0), w), v: Math.min(Math.max(spot.v, 0), h) };
    this.view.reveal(this.cross.u / w, this.cross.v / h);
    this.#magnify(this.cross);
    this.calls.moved();
  }

  /** Say which mark is in hand: beside the list, and on a narrow screen in the picture too. @param {string} words */
  name(words) {
    need('#hand-words').textContent = words;
    this.caption.textContent = words;
  }

  /** Draw the cross where it stands. */
  drawCross() {
    const { u, v } = this.cross;
    const long = 15 * this.scale;
    const gap = 4 * this.scale;
    const d = `M${u - long} ${v}H${u - gap}M${u + gap} ${v}H${u + long}M${u} ${v - long}V${v - gap}M${u} ${v + gap}V${v + long}`;
    this.crossLayer.replaceChildren(svg('path', { class: 'cross-case', d }), svg('path', { class: 'cross', d }));
  }

  /** A press sets a point, but only on the frame it is meant for. @param {MouseEvent} event */
  #press(event) {
    if (this.player.playing) return false; // it stops
    if (!this.frame.isShown) tell('The frame was still loading, so nothing was set. Press again.');
    else {
      this.cross = this.spotOf(event);
      this.figure.focus({ preventScroll: true });
      this.calls.placed({ ...this.cross });
    }
    return true;
  }

  #played() {
    if (this.player.problems.length > this.problemsShown) tell(CANNOT_PLAY);
    this.problemsShown = this.player.problems.length;
  }

  /** Beside the marks on a desk; where the marks stand below the picture, in its corner. */
  #placeGlass() {
    if (!this.glass) return;
    const home = need('.views');
    if (NARROW.matches) this.figure.append(this.glass);
    else home.append(this.glass);
    this.glass.classList.toggle('in-corner', NARROW.matches);
  }

  /** Enlarge what is round a place. @param {Spot} spot */
  #magnify(spot) {
    const { image } = this.frame;
    if (!this.glass || !image.complete || !image.naturalWidth) return;
    this.glass.classList.toggle('right', spot.u < this.film.size[0] / 2);
    const pen = this.glass.getContext('2d');
    if (!pen) return;
    const side = this.glass.width;
    const part = side / GLASS;
    pen.imageSmoothingEnabled = false;
    pen.fillStyle = '#101417';
    pen.fillRect(0, 0, side, side);
    pen.drawImage(image, spot.u - part / 2, spot.v - part / 2, part, part, 0, 0, side, side);
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

/** Say when the frame shown is, in the field where a time can be typed. @param {number} us */
export function showTime(us) {
  const time = /** @type {HTMLInputElement} */ (need('#time'));
  if (document.activeElement !== time) time.value = clockWords(us);
}

/** Put words into the page's state line. @param {string} words */
export function tell(words) {
  need('#state').textContent = words;
}

/**
 * Let keys, buttons and the field of time work on a list of points.
 * @param {import('../video/point-sequence.js').PointList} points @param {PointPicker} picker
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
    if (!step || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    const target = event.target instanceof Element ? event.target : null;
    if (target?.closest(`input, select, textarea, dialog, ${rows}`) && target !== document.body) return;
    event.preventDefault();
    if (target?.closest('[role="slider"]')) void picker.step(step[0] + step[1] > 0 ? 1 : -1);
    else points.nudge(...step);
  });
  const nudge = (/** @type {number} */ du, /** @type {number} */ dv) => () => points.nudge(du, dv);
  listen({
    ...picker.controls.actions,
    set: () => {
      if (!picker.frame.isShown) void picker.show(picker.frame.mediaUs).then(() => tell('Stopped here. Press again to set the mark on this frame.'));
      else if (!points.setHere()) tell('The cross is still on the previous mark. Move it with the arrow keys, or click.');
    },
    play: () => {
      if (picker.player.problems.length) tell(CANNOT_PLAY);
      picker.controls.playOrStop();
    },
    clear: () => points.clear(),
    'mark-after': () => points.take(points.hand + 1),
    'mark-before': () => points.take(points.hand - 1),
    'frame-back': () => void picker.step(-1),
    'frame-on': () => void picker.step(1),
    'nudge-left': nudge(-0.5, 0),
    'nudge-right': nudge(0.5, 0),
    'nudge-up': nudge(0, -0.5),
    'nudge-down': nudge(0, 0.5),
    room: () => void toggleTheme(),
    help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
    ...actions,
  });
}
