// @ts-check
/* Times in words, as the rest of goodlength says them. */

/** "31:14.6"; hours only when there are any. @param {number} us */
export function clockWords(us) {
  const tenths = Math.max(0, Math.floor(us / 100_000));
  const seconds = Math.floor(tenths / 10);
  const [hours, minutes] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60];
  const tail = `${String(seconds % 60).padStart(2, '0')}.${tenths % 10}`;
  return hours > 0 ? `${hours}:${String(minutes).padStart(2, '0')}:${tail}` : `${minutes}:${tail}`;
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
