// @ts-check
/* Small pictures of a video, many on one sheet: what the timeline shows where the pointer is. */

import { ask } from '../server/json-requests.js';

/** @typedef {import('../server/message-types.js').PreviewSheets} PreviewSheets @typedef {import('../server/message-types.js').Part} Part */

const AGAIN_MS = 4000;
const MOST_QUESTIONS = 45; // three minutes: afterwards the next visit finds them

/**
 * The picture nearest to a time: its sheet, and its place there in pixels; null where there are none.
 * @param {PreviewSheets} previews @param {number} us media time
 * @returns {{sheet: number, x: number, y: number} | null}
 */
export function tileAt(previews, us) {
  const { times_us: times, across, down, width, height } = previews;
  if (!times.length || !(across > 0) || !(down > 0)) return null;
  let low = 0;
  let high = times.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (times[middle] <= us) low = middle;
    else high = middle - 1;
  }
  if (low + 1 < times.length && times[low + 1] - us < us - times[low]) low += 1;
  const place = low % (across * down);
  return { sheet: Math.floor(low / (across * down)), x: (place % across) * width, y: Math.floor(place / across) * height };
}

export class PreviewPictures {
  /** @param {Part[]} parts */
  constructor(parts) {
    this.parts = parts;
    /** @type {Map<string, PreviewSheets>} */
    this.known = new Map();
    this.questions = 0;
    this.onFound = () => {};
  }

  /** Ask for the sheets, and again while they are being made. */
  async load() {
    const missing = [...new Set(this.parts.map((part) => part.id))].filter((id) => !this.known.has(id));
    for (const id of missing) {
      const found = /** @type {PreviewSheets | null} */ (
        await ask(`/api/footage/${encodeURIComponent(id)}/previews`, this.questions === 0 ? { body: {} } : {}).catch(() => null)
      );
      if (found?.ready) {
        this.known.set(id, found);
        this.onFound();
      } else if (found === null || !found.awaited) this.questions = MOST_QUESTIONS;
    }
    this.questions += 1;
    if (this.known.size < new Set(this.parts.map((part) => part.id)).size && this.questions < MOST_QUESTIONS) setTimeout(() => void this.load(), AGAIN_MS);
  }

  /** @param {Part} part @param {number} us match time @returns {{url: string, x: number, y: number, width: number, height: number, sheetWidth: number} | null} */
  at(part, us) {
    const previews = this.known.get(part.id);
    const tile = previews && tileAt(previews, us - part.starts_us + part.first_us);
    if (!previews || !tile) return null;
    const url = `/api/footage/${encodeURIComponent(part.id)}/previews/${tile.sheet}?of=${previews.made}`;
    return { url, x: tile.x, y: tile.y, width: previews.width, height: previews.height, sheetWidth: previews.width * previews.across };
  }
}
