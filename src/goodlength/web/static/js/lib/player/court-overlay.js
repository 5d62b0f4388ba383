// @ts-check
/* Court lines, the players' paths and body points over the picture, each on and off. */

import { svg } from '../page/dom.js';
import { ask } from '../server/json-requests.js';

/** @typedef {import('../server/message-types.js').PictureOverlay} PictureOverlay @typedef {import('../server/message-types.js').PicturePath} PicturePath @typedef {import('../server/message-types.js').PictureBody} PictureBody */
/** @typedef {'court' | 'paths' | 'joints'} Layer */

export const LAYERS = /** @type {readonly Layer[]} */ (['court', 'paths', 'joints']);
/** Which body points are joined by a bone. */
export const BONES = [[5, 6], [5, 7], [7, 9], [6, 8], [8, 10], [11, 12], [5, 11], [6, 12], [11, 13], [13, 15], [12, 14], [14, 16]];
const TRAIL_US = 2_000_000; // of a path, before the moment shown
const SURE_US = 1_000_000; // so long lines alone are taken to hold
const NEAR_US = 30_000; // body points this near belong to the frame shown

/**
 * The part of a path right before a moment, its last point that of the moment.
 * @param {PicturePath} path @param {number} now @returns {[number, number][]}
 */
export function trailOf(path, now) {
  return /** @type {[number, number][]} */ (path.points.filter((_, n) => path.times_us[n] <= now && path.times_us[n] > now - TRAIL_US));
}

/**
 * The bones of a body in the frame of a moment; none where it was not looked for then.
 * @param {PictureBody} body @param {number} now @returns {[[number, number], [number, number]][]}
 */
export function bonesOf(body, now) {
  const far = body.times_us.map((us) => Math.abs(us - now));
  const nearest = far.indexOf(Math.min(...far));
  const joints = nearest >= 0 && far[nearest] <= NEAR_US ? body.joints[nearest] : [];
  return BONES.flatMap(([a, b]) => (joints[a] && joints[b] ? [/** @type {[[number, number], [number, number]]} */ ([joints[a], joints[b]])] : []));
}

export class CourtOverlay {
  /** @param {import('./player-controls.js').PlayerControls} controls @param {import('./video-view.js').VideoView} view */
  constructor(controls, view) {
    this.controls = controls;
    this.player = view.player;
    this.sheet = svg('svg', { class: 'court-over', preserveAspectRatio: 'none', viewBox: '0 0 1 1' });
    view.over.prepend(this.sheet);
    /** @type {ReadonlySet<Layer>} */
    this.layers = new Set();
    /** @type {PictureOverlay | null} */
    this.found = null;
    this.holds = { from_us: 0, to_us: -1 };
    this.loading = false;
  }

  get on() {
    return this.layers.size > 0;
  }

  /** @param {ReadonlySet<Layer>} layers */
  show(layers) {
    const more = [...layers].some((layer) => !this.layers.has(layer));
    this.layers = layers;
    if (more) this.say();
    this.draw();
  }

  /** Say what is missing of what is wished. */
  say() {
    const { found } = this;
    const words = LAYERS.flatMap((layer) => (this.layers.has(layer) && found?.missing[layer] ? [found.missing[layer]] : []));
    if (words.length) this.controls.tell([...new Set(words)].join(' '));
  }

  /** @param {number} now */
  async load(now) {
    this.loading = true;
    try {
      this.found = /** @type {PictureOverlay} */ (await ask(`/api/matches/${encodeURIComponent(this.controls.page.match)}/overlay?us=${Math.max(0, Math.round(now))}`));
      const times = [...this.found.paths, ...this.found.bodies].flatMap((one) => one.times_us);
      this.holds = { from_us: Math.min(...times, now - SURE_US), to_us: Math.max(...times, now + SURE_US) };
      this.say();
    } catch {
      this.controls.setLayers([]);
      this.controls.tell('What lies over the video could not be loaded. Try again.');
    }
    this.loading = false;
    this.draw();
  }

  draw() {
    const now = this.player.nowUs;
    if (this.on && !this.loading && (now < this.holds.from_us || now > this.holds.to_us)) void this.load(now);
    const of = (/** @type {Layer} */ layer) => (this.layers.has(layer) ? this.found : null);
    const line = (/** @type {number[][]} */ points) => points.map(([x, y], n) => `${n ? 'L' : 'M'}${x} ${y}`).join('');
    const lines = (of('court')?.lines ?? []).map((points) => svg('path', { class: 'court', d: line(points) }));
    const paths = (of('paths')?.paths ?? []).flatMap((path) => {
      const trail = trailOf(path, now);
      const side = `side-${path.who || 'none'}`;
      return trail.length ? [svg('path', { class: `path ${side}`, d: line(trail) }), svg('path', { class: `feet ${side}`, d: `${line([trail[trail.length - 1]])}h0` })] : [];
    });
    const bodies = (of('joints')?.bodies ?? []).flatMap((body) => {
      const bones = bonesOf(body, now);
      const d = bones.map((bone) => line(bone)).join('');
      const dots = bones.flat().map((joint) => `${line([joint])}h0`).join('');
      return d ? [svg('path', { class: 'bone-case', d }), svg('path', { class: `bone side-${body.who}`, d }), svg('path', { class: 'body-point', d: dots })] : [];
    });
    this.sheet.replaceChildren(...lines, ...paths, ...bodies);
  }
}
