// @ts-check
/* Court lines and the players' paths over the picture, on and off. */

import { svg } from '../page/dom.js';
import { ask } from '../server/json-requests.js';

/** @typedef {import('../server/message-types.js').PictureOverlay} PictureOverlay @typedef {import('../server/message-types.js').PicturePath} PicturePath */

const TRAIL_US = 2_000_000; // of a path, before the moment shown
const SURE_US = 1_000_000; // so long lines alone are taken to hold

/**
 * The part of a path right before a moment, its last point that of the moment.
 * @param {PicturePath} path @param {number} now @returns {[number, number][]}
 */
export function trailOf(path, now) {
  return /** @type {[number, number][]} */ (path.points.filter((_, n) => path.times_us[n] <= now && path.times_us[n] > now - TRAIL_US));
}

export class CourtOverlay {
  /** @param {import('./player-controls.js').PlayerControls} controls @param {HTMLElement} over */
  constructor(controls, over) {
    this.controls = controls;
    this.sheet = svg('svg', { class: 'court-over', preserveAspectRatio: 'none', viewBox: '0 0 1 1' });
    over.prepend(this.sheet);
    this.on = false;
    /** @type {PictureOverlay | null} */
    this.found = null;
    this.holds = { from_us: 0, to_us: -1 };
    this.loading = false;
  }

  toggle() {
    this.on = !this.on;
    this.holds = { from_us: 0, to_us: -1 };
    this.found = null;
    this.controls.pressed('overlay', this.on);
    this.draw();
  }

  /** @param {number} now */
  async load(now) {
    this.loading = true;
    try {
      this.found = /** @type {PictureOverlay} */ (await ask(`/api/matches/${encodeURIComponent(this.controls.page.match)}/overlay?us=${Math.max(0, Math.round(now))}`));
      const times = this.found.paths.flatMap((path) => path.times_us);
      this.holds = { from_us: Math.min(...times, now - SURE_US), to_us: Math.max(...times, now + SURE_US) };
      if (this.found.words) this.controls.tell(this.found.words);
    } catch {
      this.on = false;
      this.controls.pressed('overlay', false);
      this.controls.tell('The court lines could not be loaded. Try again.');
    }
    this.loading = false;
    this.draw();
  }

  draw() {
    const now = this.controls.player.nowUs;
    if (this.on && !this.loading && (now < this.holds.from_us || now > this.holds.to_us)) void this.load(now);
    const shown = this.on ? this.found : null;
    const line = (/** @type {number[][]} */ points) => points.map(([x, y], n) => `${n ? 'L' : 'M'}${x} ${y}`).join('');
    const lines = (shown?.lines ?? []).map((points) => svg('path', { class: 'court', d: line(points) }));
    const paths = (shown?.paths ?? []).flatMap((path) => {
      const trail = trailOf(path, now);
      const side = `side-${path.who || 'none'}`;
      return trail.length ? [svg('path', { class: `path ${side}`, d: line(trail) }), svg('path', { class: `feet ${side}`, d: `${line([trail[trail.length - 1]])}h0` })] : [];
    });
    this.sheet.replaceChildren(...lines, ...paths);
  }
}
