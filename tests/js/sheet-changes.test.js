/* The sheet brought up by what the server says has changed. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { isOlder, withChanges } from '../../src/goodlength/web/static/js/lib/logging/sheet-changes.js';
import { rallyOf, sheetOf } from './sheets.js';

const held = sheetOf({ version: 'run.4', rallies: ['r1', 'r2', 'r3'].map((key) => rallyOf({ key })) });

/** @param {object} [more] */
const changesOf = (more = {}) => ({ since: 'run.4', version: 'run.5', parts: {}, rallies: [], scores: null, order: null, ...more });

test('a changed row takes the place of the old one, the others stay', () => {
  const now = withChanges(held, changesOf({ rallies: [rallyOf({ key: 'r2', note: 'Late' })] }));
  assert.deepEqual(now?.rallies.map((rally) => [rally.key, rally.note]), [['r1', ''], ['r2', 'Late'], ['r3', '']]);
  assert.equal(now?.rallies[0], held.rallies[0]);
  assert.equal(now?.version, 'run.5');
  assert.equal(held.rallies[1].note, '', 'the sheet given stays as it is');
});

test('a new row stands after the others, changed parts take the place of the old ones', () => {
  const now = withChanges(held, changesOf({ rallies: [rallyOf({ key: 'r4' })], parts: { next_key: 5 } }));
  assert.deepEqual(now?.rallies.map((rally) => rally.key), ['r1', 'r2', 'r3', 'r4']);
  assert.equal(now?.next_key, 5);
  assert.equal(now?.lead_s, held.lead_s);
});

test('scores are laid over rows whose answers stay', () => {
  const scores = { keys: ['r2', 'r3'], same: { game: 2 }, each: { n: [7, 8], call: ['1-all', '2–1'] } };
  const now = withChanges(held, changesOf({ scores }));
  assert.deepEqual(now?.rallies.map(({ n, game, call }) => [n, game, call]).slice(1), [[7, 2, '1-all'], [8, 2, '2–1']]);
  assert.equal(now?.rallies[1].answers, held.rallies[1].answers);
  assert.equal(now?.rallies[0], held.rallies[0]);
  assert.notEqual(held.rallies[1].game, 2, 'the sheet given stays as it is');
});

test('rows moved or removed come in the order given', () => {
  const now = withChanges(held, changesOf({ order: ['r3', 'r1'] }));
  assert.deepEqual(now?.rallies.map((rally) => rally.key), ['r3', 'r1']);
});

test('changes of another version, or a row that is not here, ask for the whole sheet', () => {
  assert.equal(withChanges(held, changesOf({ since: 'run.3' })), null);
  assert.equal(withChanges(held, changesOf({ since: 'other.4' })), null);
  assert.equal(withChanges(sheetOf(), changesOf({ since: '' })), null);
  assert.equal(withChanges(held, changesOf({ order: ['r1', 'r9'] })), null);
  assert.equal(withChanges(held, changesOf({ scores: { keys: ['r9'], same: { game: 2 }, each: {} } })), null);
});

test('only a sheet of the same run is older', () => {
  const sheet = (/** @type {string | undefined} */ version) => sheetOf(version === undefined ? {} : { version });
  assert.equal(isOlder(sheet('run.9'), sheet('run.10')), true);
  assert.equal(isOlder(sheet('run.10'), sheet('run.10')), false);
  assert.equal(isOlder(sheet('anew.1'), sheet('run.10')), false);
  assert.equal(isOlder(sheet(undefined), sheet('run.10')), false);
  assert.equal(isOlder(sheet(undefined), sheet(undefined)), false);
});
