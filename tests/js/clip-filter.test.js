// @ts-check
/* Which rallies of a list fit, what there is to choose from, and another order. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { choicesOf, fits } from '../../src/goodlength/web/static/js/lib/player/clip-filter.js';

const ROWS = [
  { winner: 'Imogen', kind: 'Lob', left: 'loose' },
  { winner: 'Petra', kind: 'Lob', left: '' },
  { winner: 'Imogen', kind: 'Lob', left: 'tight' },
];

test('a row fits when every answer asked for is its own', () => {
  const keys = (/** @type {Record<string, string>} */ wanted) => ROWS.map((row) => fits(row, wanted));
  assert.deepEqual(keys({}), [true, true, true]);
  assert.deepEqual(keys({ winner: 'Imogen', left: '' }), [true, false, true]);
  assert.deepEqual(keys({ winner: 'Imogen', left: 'tight' }), [false, false, true]);
  assert.deepEqual(keys({ winner: 'nobody' }), [false, false, false]);
});

test('only what tells rows apart can be chosen', () => {
  assert.deepEqual(choicesOf(ROWS, 'winner'), ['Imogen', 'Petra']);
  assert.deepEqual(choicesOf(ROWS, 'kind'), []); // all the same
  assert.deepEqual(choicesOf(ROWS, 'left'), ['loose', 'tight']);
  assert.deepEqual(choicesOf([{ flagged: '1' }, { flagged: '' }], 'flagged'), ['1']);
});
