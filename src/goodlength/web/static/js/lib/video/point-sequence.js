// @ts-check
/* Points to be set on a picture, one after the other: one is in hand; a click or Enter sets it and takes up the
   next, arrow keys move it. Nothing is drawn or asked here. */

/** @typedef {import('../player/frame-point-picker.js').Spot} Spot */
/**
 * `at_us`: the picture it was set in, where that counts; `again`: where a second click at the same thing fell;
 * `detected`: not clicked, found by the computer with all others in one go.
 * @typedef {Spot & {at_us?: number, found?: boolean, detected?: boolean, again?: [number, number]}} Point
 */
/**
 * What shows the picture and its cross.
 * @typedef {{cross: Spot, us: number, put: (spot: Spot) => void, nudge: (du: number, dv: number) => void,
 *   show: (us: number) => Promise<void>}} Picker
 */

export class PointList {
  /**
   * @param {number} length  how many points there are
   * @param {Picker} picker
   * @param {{changed: () => void, taken: () => void}} calls  a point was set, moved or cleared; another is in hand
   * @param {{timed?: boolean, wraps?: boolean}} [options]  `timed`: each point belongs to its own picture;
   *   `wraps`: after the last point, those left open before it come again
   */
  constructor(length, picker, calls, { timed = false, wraps = false } = {}) {
    this.picker = picker;
    this.calls = calls;
    this.timed = timed;
    this.wraps = wraps;
    /** @type {(Point | null)[]} */
    this.points = Array.from({ length }, () => null);
    /** @type {(Spot | null)[]} points found by the computer and not set yet */
    this.offers = Array.from({ length }, () => null);
    this.hand = 0;
    this.isFresh = true; // the cross was put somewhere for the point in hand
    /** @type {number[] | null} points still to be clicked a second time; null while points are set */
    this.repeats = null;
  }

  /** The point in hand, if it is set. */
  get inHand() {
    return this.points[this.hand];
  }

  get count() {
    return this.points.filter((point) => point !== null).length;
  }

  /** Ask for a second click at points that are set; the cross is moved away from each. @param {number[]} which */
  repeat(which) {
    this.repeats = which.length ? [...which] : null;
    if (this.repeats) this.take(this.repeats[0]);
  }

  /** Set the point in hand, or where it was clicked a second time. @param {Spot} spot */
  place(spot) {
    if (this.repeats) return this.#placeAgain(this.repeats, spot);
    this.points[this.hand] = this.#pointAt(spot);
    this.calls.changed();
    this.next();
  }

  /** Set the point in hand where the cross stands; false if the cross still stands on the point before. */
  setHere() {
    if (this.inHand === null && !this.isFresh) return false;
    this.place({ ...this.picker.cross });
    return true;
  }

  /** Take up the next point that was found and is not set; where none was found, the next that is not set. */
  next() {
    const { hand, points, offers } = this;
    const isFound = (/** @type {Spot | null} */ offer, /** @type {number} */ n) => offer !== null && points[n] === null;
    const isOpen = (/** @type {Point | null} */ point) => point === null;
    const candidates = [
      offers.findIndex((offer, n) => n > hand && isFound(offer, n)),
      offers.findIndex(isFound),
      points.findIndex((point, n) => n > hand && isOpen(point)),
      this.wraps ? points.findIndex(isOpen) : -1,
    ];
    this.take(candidates.find((n) => n >= 0) ?? hand);
  }

  /** Take a point in hand, with its place and its picture. @param {number} n  counted round both ends */
  take(n) {
    this.hand = (n + this.points.length) % this.points.length;
    const point = this.inHand;
    const spot = point ?? this.offers[this.hand];
    if (spot) this.picker.put(this.repeats ? away(spot) : spot);
    if (this.timed && point?.at_us !== undefined && point.at_us !== this.picker.us) void this.picker.show(point.at_us);
    this.isFresh = spot !== null || this.count === 0;
    this.calls.taken();
  }

  /** Move the cross, and with it the point in hand if it is set in the picture shown. @param {number} du @param {number} dv */
  nudge(du, dv) {
    this.picker.nudge(du, dv);
    this.isFresh = true;
    const point = this.inHand;
    if (this.repeats || point === null || (this.timed && point.at_us !== this.picker.us)) return;
    this.points[this.hand] = this.#pointAt({ ...this.picker.cross });
    this.calls.changed();
  }

  clear() {
    if (this.repeats) return;
    this.points[this.hand] = null;
    this.offers[this.hand] = null;
    this.calls.changed();
  }

  /** @param {number[]} repeats @param {Spot} spot */
  #placeAgain(repeats, spot) {
    const point = this.inHand;
    if (point) this.points[this.hand] = { ...point, again: [spot.u, spot.v] };
    const left = repeats.filter((n) => n !== this.hand);
    this.repeats = left.length ? left : null;
    if (this.repeats) this.take(left[0]);
    this.calls.changed();
  }

  /** @param {Spot} spot @returns {Point} */
  #pointAt(spot) {
    return this.timed ? { u: spot.u, v: spot.v, at_us: this.picker.us } : { u: spot.u, v: spot.v };
  }
}

/** The most and the least that the cross is moved from a point to be clicked again, px. */
const AWAY_PX = [30, 80];

/** A place some way off, so that the first click does not guide the second. @param {Spot} spot @returns {Spot} */
function away({ u, v }) {
  const off = () => (Math.random() < 0.5 ? -1 : 1) * (AWAY_PX[0] + Math.random() * (AWAY_PX[1] - AWAY_PX[0]));
  return { u: u + off(), v: v + off() };
}

/** The most that an arrow key moves a point, px. */
const FAR_PX = 10;
const STEPS = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] });

/**
 * How far an arrow key moves a point: half a pixel at a press, one while it is held down, ten with Shift.
 * @param {{key: string, shiftKey: boolean, repeat: boolean}} event
 * @returns {[number, number] | null}  px; null for other keys
 */
export function arrowStep(event) {
  const step = STEPS[event.key];
  if (!step) return null;
  const by = event.shiftKey ? FAR_PX : event.repeat ? 1 : 0.5;
  return [step[0] * by, step[1] * by];
}
