// @ts-check
/* The ball found in each frame over the picture, on and off: sure, in doubt, and the other places. */

import { svg } from '../page/dom.js';
import { ask } from '../server/json-requests.js';

/** @typedef {import('../server/message-types.js').BallInPicture} BallInPicture @typedef {import('../server/message-types.js').FrameBall} FrameBall */

const TRAIL_US = 700_000; // of the ball, before the frame shown
const SURE_US = 1_000_000; // so long it is taken to hold that there is nothing
const LATE_US = 60_000; // a frame that is older than this is not the one shown

/**
 * The number of the last frame at or before a moment; -1 before the first.
 * @param {readonly FrameBall[]} frames @param {number} now
 */
export function frameAt(frames, now) {
  let low = 0;
  let high = frames.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (frames[middle].us <= now) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

/**
 * The stretches of sure places right before a moment, each to be drawn as one line.
 * @param {readonly FrameBall[]} frames @param {number} now @returns {[number, number][][]}
 */
export function stretchesAt(frames, now) {
  /** @type {[number, number][][]} */
  const stretches = [];
  const end = frameAt(frames, now);
  let begin = end;
  while (begin > 0 && frames[begin - 1].us > now - TRAIL_US) begin -= 1;
  for (const frame of frames.slice(Math.max(begin, 0), end + 1)) {
    if (!frame.sure) continue;
    const [x, y] = frame.places[0];
    const last = stretches[stretches.length - 1];
    if (frame.joined && last) last.push([x, y]);
    else stretches.push([[x, y]]);
  }
  return stretches;
}

export class BallOverlay {
  /** @param {import('./player-controls.js').PlayerControls} controls @param {import('./video-view.js').VideoView} view */
  constructor(controls, view) {
    this.controls = controls;
    this.view = view;
    this.sheet = svg('svg', { class: 'ball-over' });
    view.over.prepend(this.sheet);
    this.on = false;
    /** @type {BallInPicture | null} */
    this.found = null;
    this.holds = { from_us: 0, to_us: -1 };
    this.loading = false;
  }

  /** @param {boolean} on */
  toggle(on) {
    this.on = on;
    this.holds = { from_us: 0, to_us: -1 };
    this.found = null;
    this.draw();
  }

  /** @param {number} now */
  async load(now) {
    this.loading = true;
    try {
      const found = /** @type {BallInPicture} */ (await ask(`/api/matches/${encodeURIComponent(this.controls.page.match)}/ball?us=${Math.max(0, Math.round(now))}`));
      if (found.words && (found.words !== this.found?.words || found.frames.length > 0)) this.controls.tell(found.words);
      this.found = found;
      this.holds = found.frames.length ? found : { from_us: now - SURE_US, to_us: now + SURE_US };
    } catch {
      this.controls.toggleBall(false);
      this.controls.tell('The ball could not be loaded. Try again.');
    }
    this.loading = false;
    this.draw();
  }

  draw() {
    const now = this.view.player.nowUs;
    if (this.on && !this.loading && (now < this.holds.from_us || now > this.holds.to_us)) void this.load(now);
    const frames = (this.on && this.found?.frames) || [];
    this.sheet.replaceChildren(...(frames.length ? this.shapes(frames, now) : []));
  }

  /** @param {readonly FrameBall[]} frames @param {number} now */
  shapes(frames, now) {
    return ballShapes(frames, now, this.view.size);
  }
}

/**
 * What is drawn at a moment: the trail, the place of this frame, and its other places.
 * @param {readonly FrameBall[]} frames @param {number} now @param {import('./picture-view.js').Size} size of the picture, px
 */
export function ballShapes(frames, now, size) {
  const at = (/** @type {readonly number[]} */ [x, y]) => ({ x: x * size.width, y: y * size.height });
  const shapes = [];
  for (const stretch of stretchesAt(frames, now)) {
    const d = stretch.map((place, n) => `${n ? 'L' : 'M'}${at(place).x.toFixed(1)} ${at(place).y.toFixed(1)}`).join('');
    if (stretch.length > 1) shapes.push(svg('path', { class: 'case', d }), svg('path', { class: 'trail', d }));
  }
  const frame = frames[frameAt(frames, now)];
  if (!frame || now - frame.us > LATE_US) return shapes;
  frame.places.forEach((place, n) => {
    const { x, y } = at(place);
    const kind = n > 0 ? 'other' : frame.sure ? 'sure' : 'unsure';
    const r = n > 0 ? 5 : 9;
    shapes.push(svg('circle', { class: `case ${kind}`, cx: x, cy: y, r }), svg('circle', { class: kind, cx: x, cy: y, r }));
  });
  return shapes;
}
