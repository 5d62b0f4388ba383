/* What the page shows while answers are on their way. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { answerLog, nextKey, withPending } from '../../src/goodlength/web/static/js/lib/logging/optimistic-answers.js';
import { entryOf, rallyOf, sheetOf } from './sheets.js';

test('an answer on its way makes the rally it is about, with the server and score of the next one', () => {
  const [rally] = withPending(sheetOf(), [entryOf('r1', 'serve.kind', 'lob')]);
  assert.deepEqual([rally.key, rally.server, rally.box, rally.before, rally.provisional], ['r1', 'a', 'right', [0, 0], true]);
  assert.deepEqual(rally.answers, { 'serve.kind': 'lob' });
});

test('a second new rally does not guess who serves', () => {
  const [, second] = withPending(sheetOf(), [entryOf('r1', 'winner', 'a'), entryOf('r2', 'serve.kind', 'lob')]);
  assert.deepEqual([second.n, second.server, second.before, second.server_later], [2, null, null, true]);
});

test('the sheet itself is left as it was', () => {
  const sheet = sheetOf({ rallies: [rallyOf()] });
  const before = structuredClone(sheet);
  withPending(sheet, [entryOf('r1', 'winner', 'a'), entryOf('r1', 'shot', { n: 3, by: 'a', stroke: 'drive' })]);
  assert.deepEqual(sheet, before);
});

test('each kind of entry changes its own part of a rally', () => {
  const [rally] = withPending(sheetOf(), [
    entryOf('r1', 'span', { start_us: 1, end_us: 2, how: 'marked' }),
    entryOf('r1', 'note', 'tight'),
    entryOf('r1', 'keep', true),
    entryOf('r1', 'shot', { n: 3, by: 'a', stroke: 'drive' }),
    entryOf('r1', 'shot', { n: 3, by: 'a', stroke: 'lob' }),
    entryOf('r1', 'shot', { count: 5 }),
    entryOf('r1', 'box', 'left'),
    entryOf('r1', 'ending', 'let'),
  ]);
  assert.deepEqual([rally.start_us, rally.end_us, rally.span_how], [1, 2, 'marked']);
  assert.deepEqual([rally.note, rally.keep, rally.box, rally.let], ['tight', true, 'left', true]);
  assert.deepEqual([rally.shots, rally.shots_in_all], [[{ n: 3, by: 'a', stroke: 'lob' }], 5]);
});

test('a rally taken out is not shown, and what stands between rallies is none', () => {
  assert.deepEqual(withPending(sheetOf(), [entryOf('r1', 'winner', 'a'), entryOf('r1', 'remove', true)]), []);
  assert.deepEqual(withPending(sheetOf(), [entryOf('conduct-1', 'conduct', { to: 'a', game: false })]), []);
});

test('an undo takes back what it names: pending, or known to the server', () => {
  const said = entryOf('r1', 'winner', 'a');
  const undo = entryOf('r1', 'undo', null, { replaces: said.id });
  assert.deepEqual(withPending(sheetOf(), [said, undo]), []);
  assert.deepEqual(answerLog(sheetOf(), [said, undo]), []);

  const known = rallyOf({ answers: { winner: 'a' }, complete: true });
  const sheet = sheetOf({ rallies: [known], log: [{ id: 'old', rally: 'r1', what: 'winner', how: null }] });
  const [rally] = withPending(sheet, [entryOf('r1', 'undo', null, { replaces: 'old' })]);
  assert.deepEqual([rally.answers, rally.complete], [{}, false]);
});

test('keys go on from what the server and the pending answers have used', () => {
  assert.equal(nextKey(sheetOf({ next_key: 7 }), []), 'r7');
  assert.equal(nextKey(sheetOf({ next_key: 7 }), [entryOf('r9', 'winner', 'a'), entryOf('conduct-3', 'conduct', { to: 'a' })]), 'r10');
});
