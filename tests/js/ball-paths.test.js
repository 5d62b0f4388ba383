// @ts-check
/* The ball's path as shapes: stretches, sounds next to a strike, words for how sure a path is. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { lineOf, neighbourSound, placeAt, stretchesOf, sureWords } from '../../src/goodlength/web/static/js/lib/ball/path-drawing.js';

/** @typedef {import('../../src/goodlength/web/static/js/lib/server/message-types.js').ShotDrawing} ShotDrawing @typedef {[number, number]} Point */

/** @param {number} struck_us @param {Partial<ShotDrawing>} [more] @returns {ShotDrawing} */
const shot = (struck_us, more = {}) => ({ number: 1, striker: 'a', struck_us, until_us: struck_us + 1e6, sure: true, corrected: false, reason: '', hidden_s: 0, paths: [], ...more });
/** @param {number} n @param {boolean} seen @param {Point | null} [point] */
const sample = (n, seen, point = [n, 0]) => ({ point, seen });

test('a path is drawn in stretches: seen and not seen join, what lies outside the picture parts', () => {
  assert.deepEqual(stretchesOf([sample(0, true), sample(1, true), sample(2, false), sample(3, true, null), sample(4, true)]), [
    { points: [[0, 0], [1, 0]], seen: true },
    { points: [[1, 0], [2, 0]], seen: false },
    { points: [[4, 0]], seen: true },
  ]);
  assert.equal(lineOf([[0, 1], [2, 3]], ([x, y]) => [10 * x, y], true), 'M0.0 1.0L20.0 3.0Z');
});

test('a strike moves to the nearest free sound, never past its neighbours', () => {
  const shots = [shot(1e6), shot(3e6), shot(5e6)];
  const sounds = [0.5e6, 2e6, 2.5e6, 4e6, 6e6];
  const [first, second, third] = shots;
  assert.equal(neighbourSound(sounds, shots, second, -1), 2.5e6);
  assert.equal(neighbourSound(sounds, shots, second, 1), 4e6);
  assert.equal(neighbourSound(sounds, shots, first, -1), 0.5e6);
  assert.equal(neighbourSound([4e6], shots, third, 1), null);
});

test('how sure a path is stands in words', () => {
  const path = { chance: 0.934, speed_km_h: 120, words: 'racket', contacts: [], samples: [{ us: 10, sheet: /** @type {Point} */ ([0, 0]), picture: null, seen: true }, { us: 20, sheet: /** @type {Point} */ ([1, 0]), picture: null, seen: true }] };
  assert.equal(sureWords(shot(0, { paths: [path], hidden_s: 0.24 })), 'sure, 93%; the ball hidden for 0.2 s');
  assert.equal(sureWords(shot(0, { paths: [path], sure: false, corrected: true })), 'unsure, 93%; corrected by you');
  assert.equal(sureWords(shot(0, { paths: [{ ...path, chance: 0.997 }] })), 'sure, over 99%'); // never 100%
  assert.equal(sureWords(shot(0, { reason: 'The ball was lost.' })), 'The ball was lost.');
  assert.deepEqual([placeAt(path, 9), placeAt(path, 14)?.us, placeAt(path, 16)?.us, placeAt(path, 21)], [null, 10, 20, null]);
});
