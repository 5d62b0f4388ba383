// @ts-check
/* Zoom and pan of the picture by wheel, two fingers, dragging and keys. */

import { el, need } from '../page/dom.js';
import { WHOLE, panned, revealed, scaleWords, zoomed } from './picture-view.js';

const STEP = 1.4;
const PAN_SHARE = 0.1;
const STILL_PX = 5; // a press that moves less is a press, not a drag

export class PictureZoom {
  /** @param {HTMLElement} frame @param {{pressed: (event: PointerEvent) => void, changed: () => void}} calls  pressed, not dragged; another view or size */
  constructor(frame, calls) {
    this.frame = frame;
    this.calls = calls;
    this.picture = need('.picture', frame);
    this.words = el('p', { class: 'scale', role: 'status' });
    this.words.hidden = true;
    frame.append(this.words);
    /** @type {import('./picture-view.js').View} */
    this.view = WHOLE;
    this.locked = false; // while something is drawn
    /** @type {(() => {x: number, y: number}) | undefined} what the keys enlarge about, px of the whole picture; left out, its middle */
    this.middle = undefined;
    this.keys = true; // arrow keys move an enlarged picture
    /** @type {Map<number, {x: number, y: number}>} fingers on the picture */
    this.fingers = new Map();
    this.travel = 0;
    frame.addEventListener('wheel', (event) => this.#wheel(event), { passive: false });
    frame.addEventListener('pointerdown', (event) => this.#down(event));
    frame.addEventListener('pointermove', (event) => this.#move(event));
    for (const name of /** @type {const} */ (['pointerup', 'pointercancel'])) frame.addEventListener(name, (event) => this.#up(event));
    frame.addEventListener('keydown', (event) => this.#key(event));
    new ResizeObserver(() => this.set(panned(this.view, 0, 0, this.size))).observe(frame);
  }

  get size() {
    return { width: Math.max(1, this.frame.clientWidth), height: Math.max(1, this.frame.clientHeight) };
  }

  /** @param {import('./picture-view.js').View} view */
  set(view) {
    this.view = view;
    this.picture.style.transform = view.scale === 1 ? '' : `translate(${view.x}px, ${view.y}px) scale(${view.scale})`;
    this.frame.classList.toggle('enlarged', view.scale > 1);
    this.frame.style.setProperty('--zoom', String(view.scale));
    const words = scaleWords(view);
    this.words.hidden = !words;
    if (this.words.textContent !== words) this.words.textContent = words;
    this.calls.changed();
  }

  /** Move an enlarged picture so that a place of it is seen. @param {{x: number, y: number}} at px of the whole picture in its frame */
  reveal(at) {
    if (this.view.scale > 1) this.set(revealed(this.view, at, this.size));
  }

  /** @param {1 | -1} way */
  step(way) {
    const { width, height } = this.size;
    const { scale, x, y } = this.view;
    const wanted = this.middle?.();
    const at = wanted ? { x: x + wanted.x * scale, y: y + wanted.y * scale } : { x: width / 2, y: height / 2 };
    this.set(zoomed(this.view, way > 0 ? STEP : 1 / STEP, at, this.size));
  }

  whole() {
    this.set(WHOLE);
  }

  /** @param {{clientX: number, clientY: number}} event */
  place(event) {
    const box = this.frame.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  }

  /** @param {WheelEvent} event */
  #wheel(event) {
    const root = document.documentElement;
    const scrolls = root.scrollHeight > root.clientHeight + 1 && !document.fullscreenElement;
    if (scrolls && !event.ctrlKey && this.view.scale === 1) return; // the page itself scrolls
    event.preventDefault();
    this.set(zoomed(this.view, Math.exp(-event.deltaY * (event.ctrlKey ? 0.01 : 0.002)), this.place(event), this.size));
  }

  /** @param {PointerEvent} event */
  #down(event) {
    if (this.locked || event.button > 0) return;
    this.fingers.set(event.pointerId, this.place(event));
    if (this.fingers.size === 1) this.travel = 0;
    if (this.view.scale > 1 || this.fingers.size > 1) this.frame.setPointerCapture(event.pointerId);
  }

  /** @param {PointerEvent} event */
  #move(event) {
    const before = this.fingers.get(event.pointerId);
    if (!before) return;
    const now = this.place(event);
    this.travel += Math.hypot(now.x - before.x, now.y - before.y);
    const other = [...this.fingers].find(([id]) => id !== event.pointerId)?.[1];
    this.fingers.set(event.pointerId, now);
    if (other) {
      const length = (/** @type {{x: number, y: number}} */ place) => Math.hypot(place.x - other.x, place.y - other.y);
      const middle = { x: (now.x + other.x) / 2, y: (now.y + other.y) / 2 };
      const moved = panned(this.view, (now.x - before.x) / 2, (now.y - before.y) / 2, this.size);
      this.set(zoomed(moved, length(now) / Math.max(1, length(before)), middle, this.size));
    } else if (this.view.scale > 1) {
      this.frame.classList.add('moving');
      this.set(panned(this.view, now.x - before.x, now.y - before.y, this.size));
    }
  }

  /** @param {PointerEvent} event */
  #up(event) {
    const alone = this.fingers.size === 1;
    if (!this.fingers.delete(event.pointerId)) return;
    this.frame.classList.remove('moving');
    if (alone && event.type === 'pointerup' && this.travel < STILL_PX) this.calls.pressed(event);
    if (!alone) this.travel = Infinity; // the last finger of two is no press
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const [dx, dy] = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key] ?? [0, 0];
    if (!this.keys || this.view.scale === 1 || (!dx && !dy) || event.shiftKey) return;
    event.preventDefault(); // so that the page's own key does not act
    const { width, height } = this.size;
    this.set(panned(this.view, dx * width * PAN_SHARE, dy * height * PAN_SHARE, this.size));
  }
}
