// @ts-check
/* One picture of the player: its frame, what plays in it, how much it is enlarged, and what lies over it.
   Most pages have one; side by side there are two. */

import { need } from '../page/dom.js';
import { contentBox } from './picture-view.js';
import { PictureZoom } from './picture-zoom.js';

export class VideoView {
  /**
   * @param {HTMLElement} frame @param {import('../video/multi-file-player.js').VideoPlayer} player
   * @param {{pressed: (event: PointerEvent) => void, changed: () => void, size?: () => import('./picture-view.js').Size}} calls
   *   pressed, not dragged; seen larger, smaller or elsewhere; the picture's size where it is not the video's
   */
  constructor(frame, player, calls) {
    this.frame = frame;
    this.player = player;
    this.calls = calls;
    this.over = need('.over-picture', frame);
    this.turned = false; // left and right changed
    this.zoom = new PictureZoom(frame, calls);
  }

  /** Let what lies over the picture lie exactly on it. */
  fit() {
    const { videoWidth: width, videoHeight: height } = this.player.front.video;
    const box = contentBox(this.zoom.size, this.calls.size?.() ?? { width, height });
    for (const [name, px] of /** @type {const} */ ([['left', box.x], ['top', box.y], ['width', box.width], ['height', box.height]])) this.over.style[name] = `${px}px`;
  }

  /** Of the picture in its frame while it is whole, px. */
  get size() {
    return { width: Math.max(1, this.over.clientWidth), height: Math.max(1, this.over.clientHeight) };
  }

  /** @param {boolean} turned */
  turn(turned) {
    this.turned = turned;
    this.frame.classList.toggle('turned', turned);
  }

  /** A place of the picture as it is seen, or the other way round. @param {[number, number]} place shares @returns {[number, number]} */
  asSeen([x, y]) {
    return [this.turned ? 1 - x : x, y];
  }

  /** Where in the picture as it is seen a pointer is, shares of its width and height. @param {{clientX: number, clientY: number}} event @returns {[number, number]} */
  placeOf(event) {
    const box = this.over.getBoundingClientRect();
    const share = (/** @type {number} */ value) => Math.max(0, Math.min(1, value));
    return [share((event.clientX - box.left) / box.width), share((event.clientY - box.top) / box.height)];
  }

  /** Where a place of the picture lies in its frame while it is whole, px. @param {number} x @param {number} y shares of its width and height */
  placeInFrame(x, y) {
    const { offsetLeft, offsetTop, offsetWidth, offsetHeight } = this.over;
    return { x: offsetLeft + x * offsetWidth, y: offsetTop + y * offsetHeight };
  }

  /** Let a place of the picture be seen. @param {number} x @param {number} y shares of its width and height */
  reveal(x, y) {
    this.zoom.reveal(this.placeInFrame(x, y));
  }
}
