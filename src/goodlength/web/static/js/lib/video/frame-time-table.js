// @ts-check
/* The table of frame times of one file: the frame index is ours, not the browser's.

   A browser shows the frame whose interval holds `currentTime`; asked for the exact start of a frame it may show
   the neighbour. So a step seeks well inside the wanted frame: half a usual step after its start. Not half-way to
   the next frame where that is far: before a key frame Chromium shows the next picture as soon as the frame's
   own length is over (seen with uneven stamps; a browser test holds it). */

/** @typedef {{starts_s: number[], end_s: number, usual_s: number}} Table  the last frame ends at `end_s` */

/**
 * The table as the server sends it: exact ticks, equal steps counted together.
 * @param {Omit<import('../server/message-types.js').FrameTable, 'shift' | 'counted'>} sent
 * @returns {Table}
 */
export function tableFrom(sent) {
  const [num, den] = sent.base;
  const seconds = (/** @type {number} */ pts) => (pts * num) / den;
  const starts_s = [seconds(sent.first)];
  /** @type {Map<number, number>} */
  const counts = new Map();
  let pts = sent.first;
  for (const [step, times] of sent.steps) {
    counts.set(step, (counts.get(step) ?? 0) + times);
    for (let i = 0; i < times; i += 1) {
      pts += step;
      starts_s.push(seconds(pts));
    }
  }
  const usual = [...counts].sort((a, b) => b[1] - a[1])[0]?.[0] ?? sent.end - sent.first;
  return { starts_s, end_s: seconds(sent.end), usual_s: seconds(usual) };
}

/**
 * The frame shown at a time: the last one that has begun.
 * @param {Table} table @param {number} time_s @returns {number}
 */
export function indexAt(table, time_s) {
  let low = 0;
  let high = table.starts_s.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (table.starts_s[middle] <= time_s) low = middle;
    else high = middle - 1;
  }
  return low;
}

/**
 * Where to seek so that frame `index` is shown.
 * @param {Table} table @param {number} index @returns {number}
 */
export function inside_s(table, index) {
  const last = table.starts_s.length - 1;
  const at = Math.max(0, Math.min(index, last));
  const end = at === last ? table.end_s : table.starts_s[at + 1];
  return table.starts_s[at] + Math.min(end - table.starts_s[at], table.usual_s) / 2;
}
