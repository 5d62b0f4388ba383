// @ts-check
/* Where the picture stands in its frame: how much it is enlarged, and which part is seen.

   `x` and `y` are the corner of the picture in the frame, in pixels of the frame; never further in than its edge. */

/** @typedef {{scale: number, x: number, y: number}} View @typedef {{width: number, height: number}} Size */

export const WHOLE = Object.freeze({ scale: 1, x: 0, y: 0 });
export const LARGEST = 8;
const EDGE = 0.06; // nearer to the edge than this share of the frame is out of sight

/** The view nearest to one wished, that leaves no gap. @param {View} wished @param {Size} frame @returns {View} */
export function clamped(wished, frame) {
  const scale = Math.min(LARGEST, Math.max(1, wished.scale));
  const within = (/** @type {number} */ at, /** @type {number} */ size) => Math.min(0, Math.max(size * (1 - scale), at));
  return { scale, x: within(wished.x, frame.width), y: within(wished.y, frame.height) };
}

/**
 * Enlarge about a place of the frame, which stays where it is.
 * @param {View} view @param {number} factor @param {{x: number, y: number}} at @param {Size} frame @returns {View}
 */
export function zoomed(view, factor, at, frame) {
  const scale = Math.min(LARGEST, Math.max(1, view.scale * factor));
  const by = scale / view.scale;
  return clamped({ scale, x: at.x - (at.x - view.x) * by, y: at.y - (at.y - view.y) * by }, frame);
}

/** @param {View} view @param {number} dx @param {number} dy @param {Size} frame @returns {View} */
export function panned(view, dx, dy, frame) {
  return clamped({ ...view, x: view.x + dx, y: view.y + dy }, frame);
}

/**
 * The view that shows a place: as it is where the place is well inside, else with the place in the middle.
 * @param {View} view @param {{x: number, y: number}} at px of the whole picture in its frame @param {Size} frame @returns {View}
 */
export function revealed(view, at, frame) {
  const [x, y] = [view.x + at.x * view.scale, view.y + at.y * view.scale];
  const inside = (/** @type {number} */ place, /** @type {number} */ size) => place >= EDGE * size && place <= (1 - EDGE) * size;
  if (inside(x, frame.width) && inside(y, frame.height)) return view;
  return panned(view, frame.width / 2 - x, frame.height / 2 - y, frame);
}

/**
 * Where the picture itself lies in its frame, without the black bars beside it.
 * @param {Size} frame @param {Size} picture its own size @returns {{x: number, y: number, width: number, height: number}}
 */
export function contentBox(frame, picture) {
  if (!(picture.width > 0 && picture.height > 0)) return { x: 0, y: 0, ...frame };
  const scale = Math.min(frame.width / picture.width, frame.height / picture.height);
  const [width, height] = [picture.width * scale, picture.height * scale];
  return { x: (frame.width - width) / 2, y: (frame.height - height) / 2, width, height };
}

/** "2.5 times as large"; empty where it is whole. @param {View} view */
export function scaleWords(view) {
  return view.scale > 1.01 ? `${view.scale.toFixed(1).replace(/\.0$/, '')} times as large` : '';
}
