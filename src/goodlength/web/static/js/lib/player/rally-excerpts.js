// @ts-check
/* What of a rally is played for looking through: the serve, the return and the last two shots. And where to jump to. */

/** @typedef {{start_us: number, end_us: number}} Span @typedef {Span & {hits_us: number[]}} DetectedRally @typedef {{us: number, what: string}} Impact */

const LEAD_US = 700_000; // shown before the serve
const AFTER_RETURN_US = 900_000; // at most: the return is seen to the wall
const BEFORE_LAST_US = 900_000; // shown before the last but one shot
const LEAST_SKIPPED_US = 1_500_000; // less than this is not worth a jump
const AFTER_US = 800_000;
const NEAR_US = 60_000; // an impact this near is the one shown

/**
 * The parts of rallies to play, in order: a rally without enough hits is played whole.
 * @param {DetectedRally[]} rallies @returns {Span[]}
 */
export function excerptsOf(rallies) {
  return rallies.toSorted((a, b) => a.start_us - b.start_us).flatMap((rally) => excerptsOfRally(rally));
}

/** @param {DetectedRally} rally @returns {Span[]} */
function excerptsOfRally(rally) {
  const hits = rally.hits_us.filter((us) => rally.start_us <= us && us <= rally.end_us).toSorted((a, b) => a - b);
  const whole = { start_us: Math.max(0, rally.start_us - LEAD_US), end_us: rally.end_us + AFTER_US };
  if (hits.length < 4) return [whole];
  const firstEnd = Math.min(hits[2], hits[1] + AFTER_RETURN_US);
  const lastStart = hits[hits.length - 2] - BEFORE_LAST_US;
  if (lastStart - firstEnd < LEAST_SKIPPED_US) return [whole];
  return [
    { start_us: whole.start_us, end_us: firstEnd },
    { start_us: lastStart, end_us: whole.end_us },
  ];
}

/**
 * The hit, wall or bounce before or after a time; undefined where there is none.
 * @param {Impact[]} impacts in order of time @param {number} now @param {1 | -1} way @param {string} what '' for any
 */
export function nextImpact(impacts, now, way, what) {
  const wanted = impacts.filter((impact) => what === '' || impact.what === what);
  return way > 0 ? wanted.find((impact) => impact.us > now + NEAR_US) : wanted.findLast((impact) => impact.us < now - NEAR_US);
}
