/* Points set one after the other on a picture. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { PointList, arrowStep } from '../../src/goodlength/web/static/js/lib/video/point-sequence.js';

/** @param {number} length @param {{timed?: boolean, wraps?: boolean}} [options] */
function listOf(length, options) {
  const picker = {
    cross: { u: 50, v: 50 },
    us: 1000,
    put(/** @type {{u: number, v: number}} */ { u, v }) {
      picker.cross = { u, v };
    },
    nudge(/** @type {number} */ du, /** @type {number} */ dv) {
      picker.cross = { u: picker.cross.u + du, v: picker.cross.v + dv };
    },
    async show(/** @type {number} */ us) {
      picker.us = us;
    },
  };
  const calls = { changed: 0, taken: 0 };
  const list = new PointList(length, picker, { changed: () => (calls.changed += 1), taken: () => (calls.taken += 1) }, options);
  return { list, picker, calls };
}

test('a click sets the point in hand and takes up the next', () => {
  const { list, calls } = listOf(3);
  list.place({ u: 1, v: 2 });
  assert.deepEqual(list.points, [{ u: 1, v: 2 }, null, null]);
  assert.deepEqual([list.hand, list.count, calls], [1, 1, { changed: 1, taken: 1 }]);
});

test('Enter sets where the cross stands, but not twice at one place', () => {
  const { list, picker } = listOf(3);
  assert.equal(list.setHere(), true);
  assert.equal(list.setHere(), false);
  assert.equal(list.count, 1);
  list.nudge(3, 0);
  assert.equal(list.setHere(), true);
  assert.deepEqual(list.points[1], { u: 53, v: 50 });
  assert.deepEqual(picker.cross, { u: 53, v: 50 });
});

test('after the last point the list stays there, or comes to those left open', () => {
  const { list } = listOf(3);
  list.take(2);
  list.place({ u: 1, v: 1 });
  assert.equal(list.hand, 2);
  const { list: round } = listOf(3, { wraps: true });
  round.take(2);
  round.place({ u: 1, v: 1 });
  assert.equal(round.hand, 0);
});

test('points found by the computer come first, and Enter takes one as it was found', () => {
  const { list, picker } = listOf(4, { wraps: true });
  list.offers = [{ u: 9, v: 9 }, null, null, { u: 7, v: 7 }];
  list.take(1);
  list.place({ u: 1, v: 1 });
  assert.equal(list.hand, 3);
  assert.deepEqual(picker.cross, { u: 7, v: 7 });
  assert.equal(list.setHere(), true);
  assert.deepEqual(list.points[3], { u: 7, v: 7 });
  assert.equal(list.hand, 0);
});

test('one that is cleared is no longer offered', () => {
  const { list, calls } = listOf(2);
  list.offers = [{ u: 9, v: 9 }, null];
  list.place({ u: 1, v: 1 });
  list.take(0);
  list.clear();
  assert.deepEqual([list.points[0], list.offers[0], calls.changed], [null, null, 2]);
});

test('taking goes round both ends', () => {
  const { list } = listOf(3);
  list.take(-1);
  assert.equal(list.hand, 2);
  list.take(3);
  assert.equal(list.hand, 0);
});

test('a timed point belongs to its picture: taking it shows that, and it moves only there', () => {
  const { list, picker, calls } = listOf(2, { timed: true });
  list.place({ u: 1, v: 1 });
  assert.deepEqual(list.points[0], { u: 1, v: 1, at_us: 1000 });
  picker.us = 2000;
  list.hand = 0;
  list.nudge(5, 5);
  assert.deepEqual(list.points[0], { u: 1, v: 1, at_us: 1000 });
  list.take(0);
  assert.equal(picker.us, 1000);
  list.nudge(1, 0);
  assert.deepEqual(list.points[0], { u: 2, v: 1, at_us: 1000 });
  assert.equal(calls.changed, 2);
});

test('an untimed point moves whatever picture is shown', () => {
  const { list, picker } = listOf(1);
  list.place({ u: 1, v: 1 });
  list.take(0);
  picker.us = 5000;
  list.nudge(0, 2);
  assert.deepEqual(list.points[0], { u: 1, v: 3 });
});

test('arrow keys move half a pixel, one while held down, ten with Shift', () => {
  const press = { shiftKey: false, repeat: false };
  assert.deepEqual(arrowStep({ ...press, key: 'ArrowLeft' }), [-0.5, 0]);
  assert.deepEqual(arrowStep({ ...press, key: 'ArrowDown', repeat: true }), [0, 1]);
  assert.deepEqual(arrowStep({ ...press, key: 'ArrowUp', shiftKey: true, repeat: true }), [0, -10]);
  assert.equal(arrowStep({ ...press, key: 'Enter' }), null);
});

test('points are clicked a second time without being moved, and the cross does not show the first click', () => {
  const { list, picker, calls } = listOf(3, { timed: true });
  list.place({ u: 100, v: 100 });
  list.place({ u: 200, v: 100 });
  const before = calls.changed;
  list.repeat([0, 1]);
  assert.ok(Math.hypot(picker.cross.u - 100, picker.cross.v - 100) >= 30);
  list.nudge(4, 0);
  list.clear();
  assert.deepEqual(list.points[0], { u: 100, v: 100, at_us: 1000 });
  list.place({ u: 102, v: 99 });
  assert.deepEqual(list.points[0], { u: 100, v: 100, at_us: 1000, again: [102, 99] });
  assert.equal(list.hand, 1);
  assert.deepEqual(list.repeats, [1]);
  list.place({ u: 198, v: 101 });
  assert.equal(list.repeats, null);
  assert.equal(calls.changed, before + 2);
  list.take(0);
  list.nudge(1, 0); // moved since: the second click was at the place before
  assert.equal(list.points[0]?.again, undefined);
});

test('clicking a second time can be stopped', () => {
  const { list } = listOf(2);
  list.place({ u: 1, v: 1 });
  list.repeat([0]);
  list.repeat([]);
  assert.equal(list.repeats, null);
  list.repeat([]);
  assert.equal(list.repeats, null);
});
