/* Walking the script of questions. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { newRally } from '../../src/goodlength/web/static/js/lib/logging/optimistic-answers.js';
import { applicableQuestions, fillNames, nextShot, openQuestion, striker } from '../../src/goodlength/web/static/js/lib/logging/question-flow.js';
import { sheetOf } from './sheets.js';

const sheet = sheetOf();
const rallyWith = (/** @type {object} */ more) => ({ ...newRally(sheet, 'r1', []), ...more });
const ids = (/** @type {ReturnType<typeof rallyWith>} */ rally) => applicableQuestions(sheet.script, rally, false).map((question) => question.id);

test('a known server is not asked for', () => {
  assert.deepEqual(ids(rallyWith({})), ['serve.kind', 'winner', 'shot']);
});

test('an unknown server is asked for first, unless the server will say', () => {
  assert.equal(openQuestion(sheet.script, rallyWith({ server: null }), false)?.id, 'server');
  assert.equal(openQuestion(sheet.script, rallyWith({ server: null, server_later: true }), false)?.id, 'serve.kind');
});

test('a question ruled out by an answer is not asked', () => {
  assert.ok(!ids(rallyWith({ answers: { ending: 'let' } })).includes('winner'));
  assert.ok(ids(rallyWith({ answers: { ending: 'winner' } })).includes('winner'));
});

test('a skipped question is answered', () => {
  const rally = rallyWith({ answers: { 'serve.kind': null, winner: 'a' } });
  assert.equal(openQuestion(sheet.script, rally, false)?.id, 'shot');
});

test('a repeating question is over once the shots are counted, and the rally is down', () => {
  const answers = { 'serve.kind': 'lob', winner: 'a' };
  assert.equal(openQuestion(sheet.script, rallyWith({ answers, shots_in_all: 4 }), false), null);
});

test('shots are numbered on from the script’s first, struck in turn', () => {
  assert.equal(nextShot(sheet.script, rallyWith({})), 3);
  const rally = rallyWith({ shots: [{ n: 3, by: 'a', stroke: 'drive' }] });
  assert.equal(nextShot(sheet.script, rally), 4);
  assert.equal(striker(rally, 3), 'a');
  assert.equal(striker(rally, 4), 'b');
  assert.equal(striker(rallyWith({ server: null }), 3), null);
});

test('names are put into a question', () => {
  const rally = rallyWith({ answers: { winner: 'b' } });
  assert.equal(fillNames('{winner} beat {loser}; shot {n} by {striker}', sheet, rally), 'Petra beat Imogen; shot 3 by Imogen');
  assert.equal(fillNames('{receiver} waits, {other} stays', sheet, rally), 'Petra waits, {other} stays');
  assert.equal(fillNames('{server} serves', sheet, rallyWith({ server: null })), 'The server serves');
});
