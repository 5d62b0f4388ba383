/* A rally in words. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { newRally } from '../../src/goodlength/web/static/js/lib/logging/optimistic-answers.js';
import { lineWords, sentence } from '../../src/goodlength/web/static/js/lib/logging/rally-sentence.js';
import { sheetOf } from './sheets.js';

const sheet = sheetOf();
const rallyWith = (/** @type {object} */ answers, /** @type {object} */ more = {}) => ({ ...newRally(sheet, 'r1', []), ...more, answers });
const words = (/** @type {ReturnType<typeof rallyWith>} */ rally) => sentence(sheet, rally).map((piece) => piece.words).join('');

test('before the first answer the sentence waits', () => {
  assert.equal(words(rallyWith({})), 'Imogen served from the right box, 0–0 …');
});

test('a rally in full', () => {
  const answers = { 'serve.kind': 'lob', 'return.how': 'volleyed', 'return.left': 'tight', winner: 'b', ending: 'winner', 'ending.stroke': 'drop' };
  assert.equal(words(rallyWith(answers)), 'Imogen served a lob from the right box, 0–0. Petra volleyed it and returned it tight; Petra won with a drop.');
});

test('the server’s score stands first', () => {
  assert.match(words(rallyWith({}, { server: 'b', before: [3, 5] })), /, 5–3 /);
});

test('skipped answers are said, not hidden', () => {
  const answers = { 'serve.kind': null, 'return.how': null, 'return.left': null, winner: null, ending: null };
  assert.equal(
    words(rallyWith(answers)),
    'Imogen served a serve (kind not logged) from the right box, 0–0. Petra took it (how is not logged); how good it was is not logged. Who won is not logged (ending not logged).',
  );
});

test('a kind that the coach named is quoted', () => {
  assert.match(words(rallyWith({ 'serve.kind': 'own' })), /served “Moonball” from/);
});

test('an answer can be pressed, plain words cannot', () => {
  const pieces = sentence(sheet, rallyWith({ 'serve.kind': 'lob' }));
  assert.deepEqual(pieces.filter((piece) => piece.what).map((piece) => piece.what), ['server', 'serve.kind', 'box', 'called']);
});

test('what the path proposes stands in the sentence, marked, until it is answered', () => {
  /** @type {import('../../src/goodlength/web/static/js/lib/logging/rally-sentence.js').FromPath} */
  const fromPath = [
    { what: 'serve.kind', value: 'lob', chance: 0.97 },
    { what: 'return.how', value: 'volleyed', chance: 0.94 },
  ];
  const of = (/** @type {object} */ answers) => sentence(sheet, rallyWith(answers), fromPath);
  assert.equal(of({}).map((piece) => piece.words).join(''), 'Imogen served a lob from the right box, 0–0. Petra volleyed it');
  assert.deepEqual(of({}).filter((piece) => piece.proposed).map((piece) => piece.what), ['serve.kind', 'return.how']);
  assert.deepEqual(of({ 'serve.kind': 'own' }).filter((piece) => piece.proposed).map((piece) => piece.what), ['return.how']);
  assert.match(of({ 'serve.kind': null }).map((piece) => piece.words).join(''), /kind not logged/);
  assert.equal(of({ ending: 'service-fault' }).some((piece) => piece.proposed), false);
});

test('the line on the sheet', () => {
  assert.equal(lineWords(sheet, rallyWith({ 'serve.kind': 'lob', 'return.left': 'attacked', ending: 'no-let' })), 'Lob, attacked, no let');
  assert.equal(lineWords(sheet, rallyWith({ ending: 'service-fault' })), 'Fault');
  const nick = rallyWith({ 'serve.kind': 'body-nick', 'return.left': 'loose' });
  assert.equal(lineWords(sheet, nick, true), 'Body (nick), loose');
  assert.equal(lineWords(sheet, nick), 'Body, for the back-wall nick, loose');
  assert.equal(lineWords(sheet, rallyWith({}, { let: true })), 'let, played again');
  assert.equal(lineWords(sheet, rallyWith({ 'serve.kind': 'lob' }, { certain: false })), 'Lob ?');
});

test('what the card asks on top begins a sentence of its own', () => {
  const answers = { 'serve.kind': 'lob', 'return.how': 'volleyed', 'return.left': 'tight', 'return.to': 'cross-court' };
  assert.equal(
    words(rallyWith(answers)),
    'Imogen served a lob from the right box, 0–0. Petra volleyed it and returned it tight. Where the return went: cross-court.',
  );
});
