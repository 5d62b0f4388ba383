// @ts-check
/* The timeline under the picture: where the picture is, dragging to another time, and small pictures of what is there. */

import { need } from '../page/dom.js';
import { shareOfTimeline, timeOnTimeline } from '../video/rally-timeline.js';

/** @typedef {{from_us: number, to_us: number}} Window */

export class ScrubBar {
  /**
   * @param {HTMLElement} element @param {import('../video/multi-file-player.js').VideoPlayer} player
   * @param {import('./preview-pictures.js').PreviewPictures} previews @param {() => Window | null} shown @param {(us: number) => void} seek @param {(us: number) => string} words
   */
  constructor(element, player, previews, shown, seek, words) {
    this.words = words;
    this.seek = seek;
    this.element = element;
    this.player = player;
    this.previews = previews;
    this.shown = shown;
    this.needle = need('.needle', element);
    this.preview = need('.preview', element);
    this.dragging = false;
    element.addEventListener('pointerdown', (event) => this.#down(event));
    element.addEventListener('pointermove', (event) => this.#move(event));
    element.addEventListener('pointerup', (event) => this.#letGo(event));
    element.addEventListener('pointercancel', () => this.#end());
    element.addEventListener('pointerleave', () => this.dragging || this.#hide());
    element.addEventListener('keydown', (event) => this.#key(event));
    element.addEventListener('blur', () => this.#hide());
  }

  /** Put the needle where the picture is. */
  draw() {
    const window = this.shown();
    const now = this.player.nowUs;
    const share = window ? shareOfTimeline(window, now, this.element.clientWidth) : -1;
    this.needle.hidden = share < 0 || share > 1;
    if (!this.needle.hidden) this.needle.style.left = `${100 * share}%`;
    if (!window) return;
    const values = { valuemin: window.from_us, valuemax: window.to_us, valuenow: Math.min(Math.max(now, window.from_us), window.to_us) };
    for (const [name, us] of Object.entries(values)) this.element.setAttribute(`aria-${name}`, String(Math.round(us / 1e6)));
    this.element.setAttribute('aria-valuetext', this.words(now));
  }

  /** @param {PointerEvent} event */
  #time(event) {
    const window = this.shown();
    if (!window) return null;
    const { left, width } = this.element.getBoundingClientRect();
    const us = timeOnTimeline(window, (event.clientX - left) / width, width);
    return Math.round(Math.min(Math.max(us, window.from_us, 0), window.to_us, this.player.endUs - 1));
  }

  /** @param {PointerEvent} event */
  #down(event) {
    if (event.button > 0) return;
    this.dragging = true;
    this.element.setPointerCapture(event.pointerId);
    this.#go(event);
  }

  /** @param {PointerEvent} event */
  #move(event) {
    const us = this.#time(event);
    if (us === null) return;
    if (this.dragging && !this.player.front.video.seeking) this.#go(event);
    if (event.pointerType === 'mouse' || this.dragging) this.#show(us);
  }

  /** @param {PointerEvent} event */
  #go(event) {
    const us = this.#time(event);
    if (us !== null) this.seek(us);
  }

  /** Moves on the way are passed over while the picture seeks; the place where it is let go is not. @param {PointerEvent} event */
  #letGo(event) {
    if (this.dragging) this.#go(event);
    this.#end();
  }

  #end() {
    this.dragging = false;
    this.#hide();
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const window = this.shown();
    const to = { Home: window?.from_us, End: window && Math.min(window.to_us, this.player.endUs - 1) }[event.key];
    if (to === undefined || to === null) return;
    event.preventDefault();
    this.seek(to);
  }

  #hide() {
    this.preview.hidden = true;
  }

  /** @param {number} us */
  #show(us) {
    const window = this.shown();
    if (!window) return;
    const wide = this.element.clientWidth;
    const picture = this.previews.at(this.player.partAt(us), us);
    const image = need('i', this.preview);
    image.hidden = !picture;
    if (picture) {
      image.style.width = `${picture.width}px`;
      image.style.height = `${picture.height}px`;
      image.style.backgroundImage = `url("${picture.url}")`;
      image.style.backgroundPosition = `-${picture.x}px -${picture.y}px`;
    }
    need('b', this.preview).textContent = this.words(us);
    const half = ((picture?.width ?? 60) + 4) / 2;
    this.preview.style.width = `${2 * half}px`;
    const at = shareOfTimeline(window, us, wide) * wide;
    this.preview.style.left = `${Math.max(0, Math.min(wide - 2 * half, at - half))}px`;
    this.preview.hidden = false;
  }
}
