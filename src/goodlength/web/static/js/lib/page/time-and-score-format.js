// @ts-check
/* Times and scores in words, as the rest of goodlength says them, and times read back. */

/** "31:14.6"; hours only when there are any. @param {number} us */
export function clockWords(us) {
  const tenths = Math.max(0, Math.floor(us / 100_000));
  const seconds = Math.floor(tenths / 10);
  const [hours, minutes] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60];
  const tail = `${String(seconds % 60).padStart(2, '0')}.${tenths % 10}`;
  return hours > 0 ? `${hours}:${String(minutes).padStart(2, '0')}:${tail}` : `${minutes}:${tail}`;
}

/** Words beside a tick of the timeline: "4 min", "4:30". @param {number} us */
export function tickWords(us) {
  return us % 60e6 === 0 ? `${us / 60e6} min` : clockWords(us).replace(/\.0$/, '');
}

/** "19:31:14", for a match written down live. @param {number} us */
export function dayWords(us) {
  const seconds = Math.max(0, Math.floor(us / 1_000_000));
  const parts = [Math.floor(seconds / 3600) % 24, Math.floor(seconds / 60) % 60, seconds % 60];
  return parts.map((part) => String(part).padStart(2, '0')).join(':');
}

/** A score with an en dash. @param {readonly number[]} points */
export function score(points) {
  return `${points[0]}–${points[1]}`;
}

/** @param {number} n @param {string} one @param {string} [many] */
export function count(n, one, many = `${one}s`) {
  return `${n} ${n === 1 ? one : many}`;
}

/** "31:14.6", "74.6" or "1:02:03" in microseconds; null when it is no time. @param {string} text */
export function readTime(text) {
  const found = /^(?:(?:(\d+):)?(\d+):)?(\d+(?:[.,]\d*)?)$/.exec(text.trim());
  if (!found) return null;
  const [, hours = '0', minutes = '0', seconds] = found;
  return Math.round((Number(hours) * 3600 + Number(minutes) * 60 + Number(seconds.replace(',', '.'))) * 1e6);
}

/** How much of a file is there. @param {number} bytes @param {number} size */
export function amountWords(bytes, size) {
  const [unit, name, digits] = size >= 1e9 ? [1e9, 'GB', 1] : [1e6, 'MB', size >= 1e7 ? 0 : 1];
  return `${(bytes / unit).toFixed(digits)} of ${(size / unit).toFixed(digits)} ${name}`;
}
