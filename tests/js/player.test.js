// @ts-check
/* The player's parts that need no browser: zoom and pan, small pictures, what is played for looking through. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { frameAt, stretchesAt } from '../../src/goodlength/web/static/js/lib/player/ball-overlay.js';
import { bonesOf, trailOf } from '../../src/goodlength/web/static/js/lib/player/court-overlay.js';
import { WHOLE, clamped, panned, revealed, scaleWords, zoomed } from '../../src/goodlength/web/static/js/lib/player/picture-view.js';
import { tileAt } from '../../src/goodlength/web/static/js/lib/player/preview-pictures.js';
import { excerptsOf, nextImpact } from '../../src/goodlength/web/static/js/lib/player/rally-excerpts.js';
import { shareOfTimeline, timeOnTimeline } from '../../src/goodlength/web/static/js/lib/video/rally-timeline.js';

const FRAME = { width: 800, height: 450 };

test('the place under the pointer stays where it is', () => {
  const at = { x: 600, y: 100 };
  const view = zoomed(WHOLE, 2, at, FRAME);
  assert.deepEqual(view, { scale: 2, x: -600, y: -100 });
  // the picture's place under the pointer, before and after
  const under = (/** @type {{scale: number, x: number, y: number}} */ v) => [(at.x - v.x) / v.scale, (at.y - v.y) / v.scale];
  assert.deepEqual(under(view), under(WHOLE));
});

test('a picture never leaves a gap, nor is smaller than its frame', () => {
  assert.deepEqual(panned({ scale: 2, x: -100, y: -50 }, 500, 500, FRAME), { scale: 2, x: 0, y: 0 });
  assert.deepEqual(panned({ scale: 2, x: -100, y: -50 }, -5000, -5000, FRAME), { scale: 2, x: -800, y: -450 });
  assert.deepEqual(zoomed(WHOLE, 0.1, { x: 3, y: 3 }, FRAME), { scale: 1, x: 0, y: 0 });
  assert.equal(zoomed(WHOLE, 1000, { x: 3, y: 3 }, FRAME).scale, 8);
  assert.deepEqual(clamped({ scale: 1, x: 40, y: -40 }, FRAME), { scale: 1, x: 0, y: 0 });
  assert.deepEqual([scaleWords(WHOLE), scaleWords({ scale: 2, x: 0, y: 0 }), scaleWords({ scale: 2.46, x: 0, y: 0 })], ['', '2 times as large', '2.5 times as large']);
});

test('the small picture nearest to a time is found on its sheet', () => {
  const previews = { ready: true, awaited: false, made: 'a', times_us: [0, 2e6, 4e6, 6e6, 8e6], across: 2, down: 1, width: 160, height: 90 };
  assert.deepEqual(tileAt(previews, 0), { sheet: 0, x: 0, y: 0 });
  assert.deepEqual(tileAt(previews, 2.9e6), { sheet: 0, x: 160, y: 0 });
  assert.deepEqual(tileAt(previews, 3.1e6), { sheet: 1, x: 0, y: 0 });
  assert.deepEqual(tileAt(previews, 1e12), { sheet: 2, x: 0, y: 0 });
  assert.equal(tileAt({ ...previews, times_us: [] }, 5), null);
});

test('a time on the timeline is found again at its place', () => {
  const view = { from_us: 60e6, to_us: 180e6 };
  for (const px of [300, 736, 1200]) {
    const share = shareOfTimeline(view, 100e6, px);
    assert.ok(share > 0.3 && share < 0.37);
    assert.ok(Math.abs(timeOnTimeline(view, share, px) - 100e6) < 1);
  }
});

const seconds = (/** @type {number[]} */ ...times) => times.map((time) => Math.round(time * 1e6));

test('of a long rally the serve, the return and the last two shots are played', () => {
  const [start, end] = seconds(10, 30);
  const hits = seconds(10, 11.5, 13, 15, 17, 19, 21, 23, 25, 27, 29);
  const [first, last, ...more] = excerptsOf([{ start_us: start, end_us: end, hits_us: hits }]);
  assert.equal(more.length, 0);
  assert.ok(first.start_us <= start && first.end_us > hits[1] && first.end_us < hits[2]);
  assert.ok(last.start_us < hits[9] && last.start_us > hits[8] && last.end_us >= end);
});

test('a short rally, or one whose hits are not known, is played whole', () => {
  const [start, end] = seconds(10, 14);
  for (const hits of [[], seconds(10, 11.2), seconds(10, 11, 12, 13), seconds(10, 11, 12, 13, 13.5)]) {
    const found = excerptsOf([{ start_us: start, end_us: end, hits_us: hits }]);
    assert.equal(found.length, 1);
    assert.ok(found[0].start_us <= start && found[0].end_us >= end);
  }
});

test('excerpts follow each other in time, whatever order the rallies come in', () => {
  const found = excerptsOf([
    { start_us: 50e6, end_us: 60e6, hits_us: [] },
    { start_us: 5e6, end_us: 9e6, hits_us: [] },
  ]);
  assert.deepEqual(found.map((span) => span.start_us < 10e6), [true, false]);
});

test('the next impact of a kind is found, and the one shown is not found again', () => {
  const impacts = [
    { us: 1_000_000, what: 'racket' },
    { us: 1_600_000, what: 'front wall' },
    { us: 2_100_000, what: 'floor' },
    { us: 2_500_000, what: 'racket' },
  ];
  assert.equal(nextImpact(impacts, 1_000_000, 1, '')?.what, 'front wall');
  assert.equal(nextImpact(impacts, 1_000_000, 1, 'racket')?.us, 2_500_000);
  assert.equal(nextImpact(impacts, 2_500_000, -1, 'racket')?.us, 1_000_000);
  assert.equal(nextImpact(impacts, 2_500_000, 1, ''), undefined);
});

test('of a path the last two seconds before the moment are shown', () => {
  const path = { who: 'a', times_us: [0, 1e6, 2e6, 3e6, 4e6], points: /** @type {[number, number][]} */ ([[0, 0], [0.1, 0], [0.2, 0], [0.3, 0], [0.4, 0]]) };
  assert.deepEqual(trailOf(path, 3.5e6), [[0.2, 0], [0.3, 0]]);
  assert.deepEqual(trailOf(path, -1), []);
});

test('the ball of the frame shown is found, and its trail breaks where the ball was lost', () => {
  const frame = (/** @type {number} */ n, sure = true, joined = true) => ({ us: n * 40_000, places: /** @type {[number, number, number][]} */ ([[n / 10, 0.5, 0.9]]), sure, joined });
  const frames = [frame(0, true, false), frame(1), frame(2, false, false), frame(3, true, false), frame(4)];
  assert.deepEqual([-1, 0, 79_999, 160_000, 9e6].map((us) => frameAt(frames, us)), [-1, 0, 1, 4, 4]);
  assert.deepEqual(stretchesAt(frames, 170_000), [[[0, 0.5], [0.1, 0.5]], [[0.3, 0.5], [0.4, 0.5]]]);
  assert.deepEqual(stretchesAt(frames, 750_000), [[[0.3, 0.5], [0.4, 0.5]]]); // 0.7 s of it
  assert.deepEqual(stretchesAt(frames, -1), []);
});

test('bones join points that were seen, in the frame shown and no other', () => {
  const joints = Array.from({ length: 17 }, (_, n) => /** @type {[number, number] | null} */ (n === 7 ? null : [n / 20, 0.5]));
  const body = { who: 'a', times_us: [1e6, 1.04e6], joints: [joints, []] };
  const bones = bonesOf(body, 1.01e6);
  assert.equal(bones.length, 10); // the two at the left elbow are not known
  assert.deepEqual(bones[0], [[0.25, 0.5], [0.3, 0.5]]);
  assert.deepEqual(bonesOf(body, 1.04e6), []);
  assert.deepEqual(bonesOf(body, 2e6), []);
  assert.deepEqual(bonesOf({ ...body, times_us: [], joints: [] }, 1e6), []);
});

test('an enlarged picture follows a place that would be out of sight', () => {
  const view = { scale: 4, x: -400, y: -200 };
  assert.equal(revealed(view, { x: 200, y: 100 }, FRAME), view); // in the middle of what is seen
  const moved = revealed(view, { x: 700, y: 400 }, FRAME);
  assert.deepEqual([moved.x + 4 * 700, moved.y + 4 * 400].map((px, n) => px <= [FRAME.width, FRAME.height][n]), [true, true]);
  assert.deepEqual(moved, { scale: 4, x: -2400, y: -1350 }); // no further than the edge
});
