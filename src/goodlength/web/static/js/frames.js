// @ts-check
/* The table of frame times of one file: the frame index is ours, not the browser's.

   A browser shows the frame whose interval holds `currentTime`; asked for the exact start of a frame it may show
   the neighbour. So a step seeks to the middle of the wanted frame's interval. */

/** @typedef {{starts_s: number[], end_s: number}} Table  the last frame ends at `end_s` */

/**
 * The table as the server sends it: exact ticks, equal steps counted together.
 * @param {{n: number, base: [number, number], first: number, end: number, steps: [number, number][]}} sent
 * @returns {Table}
 */
export function tableFrom(sent) {
  const [num, den] = sent.base;
  const starts_s = [(sent.first * num) / den];
  let ticks = sent.first;
  for (const [step, times] of sent.steps) {
    for (let i = 0; i < times; i += 1) {
      ticks += step;
      starts_s.push((ticks * num) / den);
    }
  }
  return { starts_s, end_s: (sent.end * num) / den };
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
export function middle_s(table, index) {
  const last = table.starts_s.length - 1;
  const at = Math.max(0, Math.min(index, last));
  const end = at === last ? table.end_s : table.starts_s[at + 1];
  return (table.starts_s[at] + end) / 2;
}
