// @ts-check
/* What Measure and Camera say before there is a result: never that marks are missing which are set. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { cameraIsSolvable, cameraResultWords, resultState, serveIsMeasurable, serveResultWords } from '../../src/goodlength/web/static/js/lib/video/measuring-words.js';

const marks = (/** @type {string[]} */ ...what) => what.map((each) => ({ what: each }));
const court = (/** @type {number} */ floor, /** @type {number} */ wall) => Array.from({ length: floor + wall }, (_, n) => ({ floor: n < floor }));

test('a saved serve that opens is being measured, and no marks are asked for', () => {
  const saved = marks('racket', 'front', 'left', 'ball');
  const state = resultState({ found: false, enough: serveIsMeasurable(saved), failed: false });
  assert.equal(state, 'measuring');
  assert.equal(serveResultWords(state, 95), 'Measuring …');
});

test('marks are asked for only where they are missing', () => {
  assert.equal(serveIsMeasurable(marks('front')), false);
  assert.equal(serveIsMeasurable(marks('racket', 'floor')), false);
  const state = resultState({ found: false, enough: false, failed: true });
  assert.match(serveResultWords(state, 95), /^Nothing yet: two marks/);
  assert.match(serveResultWords('found', 95), /^95% ranges/);
});

test('what failed is not said to be measured still', () => {
  const state = resultState({ found: false, enough: true, failed: true });
  assert.equal(state, 'failed');
  assert.doesNotMatch(serveResultWords(state, 95) + cameraResultWords(state, court(9, 9)), /Measuring|Nothing yet|Set four/);
  assert.equal(resultState({ found: true, enough: true, failed: true }), 'found');
});

test('a saved calibration that opens asks for no marks either', () => {
  assert.deepEqual([court(4, 0), court(3, 2), court(3, 3), court(0, 6)].map(cameraIsSolvable), [true, false, true, true]);
  const state = resultState({ found: false, enough: cameraIsSolvable(court(9, 9)), failed: false });
  assert.equal(state, 'measuring');
  assert.equal(cameraResultWords('measuring', court(9, 9)), 'Measuring … 18 marks set.');
  assert.match(cameraResultWords('too few', court(2, 1)), /^3 marks set, 2 of them on the floor\. Set four/);
});
