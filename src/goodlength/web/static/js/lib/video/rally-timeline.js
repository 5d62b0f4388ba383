// @ts-check
/* The one timeline of rallies under the video. Solid: recorded. Hollow: heard, to come. Dashed: heard, but doubtful.
   Framed, with the ball: the rally in hand. */

import { svg } from '../page/dom.js';

const WIDEST = 2600; // wider lanes are drawn larger; 736 stands in until it is laid out
const USUAL = 736;
const NARROWEST = 280;
const HEIGHT = 44;
const EDGE = 4;
const AXIS_STEPS_S = [0.5, 1, 2, 5, 10, 30, 60, 120, 300, 600, 1800, 3600];
const TICK_WIDTH = 52; // so that every second tick has room for its time
const LEAST_US = 120e6; // two minutes, or the whole footage where it is shorter
const LONG_AGO_US = 1200e6; // a match written down live is over: the clock is no longer part of it

/**
 * @typedef {{start_us: number, end_us: number, doubtful?: boolean}} Span
 * @typedef {{recorded: Span[], current: Span | null, proposed: Span[], from_us: number, to_us: number}} View
 */

/**
 * What the timeline shows: the game in hand with all its rallies, the picture, and two minutes at least.
 * @param {Span[]} spans @param {number} now @param {number} last end of the footage
 */
export function windowOf(spans, now, last) {
  const ended = Math.max(0, ...spans.map((span) => span.end_us));
  const shown = spans.length > 0 && last === Infinity && now - ended > LONG_AGO_US ? ended : now;
  const from = Math.min(shown, ...spans.map((span) => span.start_us));
  const to = Math.max(shown, ended);
  const least = Math.min(LEAST_US, last);
  const margin = Math.max(0.04 * (to - from), (least - (to - from)) / 2, 2e6);
  const start = Math.max(0, Math.min(from - margin, last - least));
  return { from_us: start, to_us: Math.min(last, Math.max(to + margin, start + least)) };
}

/**
 * Units across: of pixels where it is narrower than on a desk, so that its times stay as large as other text.
 * @param {SVGElement} timeline
 */
const widthOf = (timeline) => unitsOf(timeline.clientWidth);

/** How wide a timeline is drawn, in its own units. @param {number} px */
const unitsOf = (px) => Math.min(WIDEST, Math.max(NARROWEST, Math.round(px) || USUAL));

/** Where a time lies across a timeline, 0 to 1. @param {{from_us: number, to_us: number}} view @param {number} us @param {number} px its width on the screen */
export function shareOfTimeline(view, us, px) {
  const units = unitsOf(px);
  return (EDGE + ((us - view.from_us) / Math.max(1, view.to_us - view.from_us)) * (units - 2 * EDGE)) / units;
}

/** The time at a place of a timeline. @param {{from_us: number, to_us: number}} view @param {number} share @param {number} px */
export function timeOnTimeline(view, share, px) {
  const units = unitsOf(px);
  return view.from_us + ((share * units - EDGE) / (units - 2 * EDGE)) * (view.to_us - view.from_us);
}

/**
 * Draw the timeline anew.
 * @param {SVGElement} timeline @param {View} view @param {(us: number) => string} words
 */
export function drawTimeline(timeline, view, words) {
  const width = widthOf(timeline);
  timeline.setAttribute('viewBox', `0 0 ${width} ${HEIGHT}`);
  const x = (/** @type {number} */ us) =>
    EDGE + ((us - view.from_us) / (view.to_us - view.from_us)) * (width - 2 * EDGE);
  /** @param {Span} span @param {number} least */
  const box = (span, least) => {
    const left = Math.max(EDGE, x(span.start_us));
    return { x: left.toFixed(1), width: Math.max(least, Math.min(width - EDGE, x(span.end_us)) - left).toFixed(1) };
  };
  const visible = (/** @type {Span} */ span) => span.end_us > view.from_us && span.start_us < view.to_us;
  timeline.replaceChildren(
    svg('path', { d: `M${EDGE} 22.5H${width - EDGE}`, class: 'ax-strong', 'stroke-width': 1 }),
    ...axisMarks(view, width, x, words),
    ...view.recorded.filter(visible).map((span) => svg('rect', { ...box(span, 2), y: 12, height: 10.5, class: 'solid' })),
    ...view.proposed
      .filter(visible)
      .map((span) => svg('rect', { ...box(span, 4), y: 12.6, height: 9.4, class: span.doubtful ? 'doubtful' : 'hollow' })),
  );
  if (view.current && visible(view.current)) timeline.append(...inHand(box(view.current, 8)));
}

/** @param {{x: string, width: string}} box */
function inHand(box) {
  const middle = Number(box.x) + Number(box.width) / 2;
  return [
    svg('rect', { ...box, y: 9, height: 16.5, class: 'current' }),
    svg('circle', { cx: middle, cy: 4.6, r: 4.4, class: 'ball' }),
    svg('circle', { cx: middle - 1.3, cy: 3.6, r: 0.95, class: 'dot' }),
    svg('circle', { cx: middle + 1.1, cy: 4.5, r: 0.95, class: 'dot' }),
  ];
}

/** @param {View} view @param {number} width @param {(us: number) => number} x @param {(us: number) => string} words */
function axisMarks(view, width, x, words) {
  const length_s = (view.to_us - view.from_us) / 1e6;
  const step = AXIS_STEPS_S.find((tick) => length_s / tick <= width / TICK_WIDTH) ?? AXIS_STEPS_S[AXIS_STEPS_S.length - 1];
  const marks = [];
  for (let at = Math.ceil(view.from_us / 1e6 / step) * step; at * 1e6 <= view.to_us; at += step) {
    const long = (at / step) % 2 === 0;
    const u = x(at * 1e6).toFixed(1);
    marks.push(svg('path', { d: `M${u} 22.5v${long ? 5 : 3}`, class: 'ax-strong' }));
    if (!long) continue;
    const anchor = Number(u) < 24 ? 't1' : Number(u) > width - 24 ? 't1 end' : 't1 mid';
    marks.push(svg('text', { x: u, y: 40, class: anchor }, words(at * 1e6)));
  }
  return marks;
}
