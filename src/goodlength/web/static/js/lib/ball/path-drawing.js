// @ts-check
/* One shot's path as shapes: over the picture (shares of its size) and on the unfolded court (metres). */

import { svg } from '../page/dom.js';

/** @typedef {import('../server/message-types.js').PathDrawing} PathDrawing @typedef {import('../server/message-types.js').ShotDrawing} ShotDrawing */
/** @typedef {[number, number]} Point @typedef {(point: Point) => Point} Scale */

export const MM = 1000; // units of the court's drawing in a metre

/**
 * Stretches of a path that lie in the picture (or on the sheet) without a gap, each seen or not.
 * @param {readonly {point: Point | null, seen: boolean}[]} samples @returns {{points: Point[], seen: boolean}[]}
 */
export function stretchesOf(samples) {
  /** @type {{points: Point[], seen: boolean}[]} */
  const found = [];
  /** @type {Point | null} */
  let before = null;
  for (const { point, seen } of samples) {
    const last = found[found.length - 1];
    if (point && before && last && last.seen === seen) last.points.push(point);
    else if (point) found.push({ points: before ? [before, point] : [point], seen });
    before = point;
  }
  return found;
}

/** @param {readonly Point[]} points @param {Scale} scale @param {boolean} [closed] */
export function lineOf(points, scale, closed = false) {
  const d = points.map((point, n) => `${n ? 'L' : 'M'}${scale(point).map((value) => value.toFixed(1)).join(' ')}`).join('');
  return closed ? `${d}Z` : d;
}

/** Where the ball is at a moment; null where that is not known. @param {PathDrawing} path @param {number} us */
export function placeAt(path, us) {
  const { samples } = path;
  if (!samples.length || us < samples[0].us || us > samples[samples.length - 1].us) return null;
  return samples.reduce((best, sample) => (Math.abs(sample.us - us) < Math.abs(best.us - us) ? sample : best));
}

/** @param {PathDrawing} path @param {'sheet' | 'picture'} where @param {Scale} scale @param {string} kind */
function lines(path, where, scale, kind) {
  const samples = path.samples.map((sample) => ({ point: /** @type {Point | null} */ (sample[where]), seen: sample.seen }));
  return stretchesOf(samples).flatMap(({ points, seen }) => {
    const d = lineOf(points, scale);
    return [svg('path', { class: `case ${kind}`, d }), svg('path', { class: `line ${kind}${seen ? '' : ' unseen'}`, d })];
  });
}

/**
 * A contact: its place as a dot, and its number beside it, so that the ring stays visible.
 * @param {Point} at @param {number} n @param {number} r @param {boolean} withSound
 */
function disc([x, y], n, r, withSound) {
  const [left, top] = [x + r * 1.7, y - r * 1.7];
  return [
    svg('path', { class: 'leader', d: `M${x} ${y}L${left} ${top}` }),
    svg('circle', { class: 'place', cx: x, cy: y, r: r * 0.32 }),
    svg('circle', { class: `disc${withSound ? '' : ' unheard'}`, cx: left, cy: top, r }),
    svg('text', { class: 'number', x: left, y: top + r * 0.42, 'text-anchor': 'middle', 'font-size': r * 1.25 }, String(n)),
  ];
}

/**
 * A shot over the picture: other paths thin, the first with its contacts, rings and where the ball is now.
 * @param {ShotDrawing} shot @param {number} now @param {import('../player/picture-view.js').Size} size @param {boolean} others
 */
export function overPicture(shot, now, size, others) {
  const scale = (/** @type {Point} */ [x, y]) => /** @type {Point} */ ([x * size.width, y * size.height]);
  const [path, ...rest] = shot.paths;
  if (!path) return [];
  const r = Math.max(8, Math.min(11, size.width / 60));
  const here = placeAt(path, now)?.picture;
  return [
    ...(others ? rest.flatMap((other) => lines(other, 'picture', scale, 'other')) : []),
    ...lines(path, 'picture', scale, 'first'),
    ...path.contacts.filter((contact) => contact.picture_ring.length).map((contact) => svg('path', { class: 'ring', d: lineOf(contact.picture_ring, scale, true) })),
    ...path.contacts.flatMap((contact, n) => (contact.picture ? disc(scale(contact.picture), n + 1, r, contact.with_sound) : [])),
    ...(here ? [svg('circle', { class: 'now', cx: scale(here)[0], cy: scale(here)[1], r: r * 0.9 })] : []),
  ];
}

/**
 * The same on the unfolded court; walls at true height, a dashed riser to the fold below.
 * @param {ShotDrawing} shot @param {number} now @param {boolean} others
 */
export function onCourt(shot, now, others) {
  const scale = (/** @type {Point} */ [u, v]) => /** @type {Point} */ ([u * MM, v * MM]);
  const [path, ...rest] = shot.paths;
  if (!path) return [];
  const here = placeAt(path, now);
  return [
    ...(others ? rest.flatMap((other) => lines(other, 'sheet', scale, 'other')) : []),
    ...lines(path, 'sheet', scale, 'first'),
    ...path.contacts.flatMap((contact) => (contact.foot ? [svg('path', { class: 'riser', d: lineOf([contact.foot, contact.sheet], scale) })] : [])),
    ...path.contacts.filter((contact) => contact.sheet_ring.length).map((contact) => svg('path', { class: 'ring', d: lineOf(contact.sheet_ring, scale, true) })),
    ...path.contacts.flatMap((contact, n) => disc(scale(contact.sheet), n + 1, 210, contact.with_sound)),
    ...(here ? [svg('circle', { class: 'now', cx: scale(here.sheet)[0], cy: scale(here.sheet)[1], r: 150 })] : []),
  ];
}

/**
 * The sound next to a strike on one side, that no other strike has taken.
 * @param {readonly number[]} sounds @param {readonly ShotDrawing[]} shots @param {ShotDrawing} shot @param {1 | -1} way @returns {number | null}
 */
export function neighbourSound(sounds, shots, shot, way) {
  const n = shots.indexOf(shot);
  const low = way < 0 ? (shots[n - 1]?.struck_us ?? -Infinity) : shot.struck_us;
  const high = way < 0 ? shot.struck_us : (shots[n + 1]?.struck_us ?? Infinity);
  const between = sounds.filter((us) => us > low && us < high);
  return between.length ? between[way < 0 ? between.length - 1 : 0] : null;
}

/** How sure the first path of a shot is, in words. @param {ShotDrawing} shot */
export function sureWords(shot) {
  const path = shot.paths[0];
  if (!path) return shot.reason || 'no path found';
  const parts = [`${shot.sure ? 'sure' : 'unsure'}, ${path.chance > 0.99 ? 'over 99' : Math.round(100 * path.chance)}%`];
  if (shot.corrected) parts.push('corrected by you');
  if (shot.reason) parts.push(shot.reason.replace(/\.$/, '').replace(/^T/, 't'));
  else if (shot.hidden_s >= 0.1) parts.push(`the ball hidden for ${shot.hidden_s.toFixed(1)} s`);
  return parts.join('; ');
}
