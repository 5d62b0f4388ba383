/* Pauses in which a rally may be missing: asked about once all else is answered, answered by one press, undone by one. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { rallyOf, sheetOf } from './sheets.js';

globalThis.addEventListener = () => {};
globalThis.fetch = async () => Promise.reject(new TypeError('no server here'));
const { RecordCommands } = await import('../../src/goodlength/web/static/js/lib/logging/logging-commands.js');
const { cardView } = await import('../../src/goodlength/web/static/js/lib/logging/rally-card-states.js');

const PAUSE = { after: 'r1', start_us: 29e6, end_us: 60e6, likely_start_us: 38e6, likely_end_us: 51e6, text: 'The pause is 31 s.' };
const SECOND = { ...PAUSE, after: 'r2', start_us: 69e6, end_us: 80e6, likely_start_us: 72e6, likely_end_us: 77e6 };

/** @param {number} n @param {object} [more] */
const answered = (n, more = {}) =>
  rallyOf({ key: `r${n}`, n, answers: { 'serve.kind': 'lob', winner: 'b', shot: null }, start_us: n * 20e6, end_us: n * 20e6 + 9e6, span_how: 'heard', box_free: false, server: 'a', complete: true, ...more });

/** @param {object} [sheet] */
function recordOf(sheet = {}) {
  const { script } = sheetOf();
  const questions = script.questions.slice(0, 3);
  const record = new RecordCommands('m1', sheetOf({ rallies: [answered(1), answered(3)], next_key: 4, next: null, script: { ...script, questions }, ...sheet }), () => {});
  record.outbox.kick = async () => {};
  record.openKey = 'r3';
  return record;
}

/** @param {ReturnType<typeof recordOf>} record */
const said = (record) => record.pending.map(({ rally, what, value }) => [rally, what, value]);

/** @param {object[]} questions */
function serverSays(questions) {
  /** @type {string[]} */
  const asked = [];
  const { fetch } = globalThis;
  globalThis.fetch = async (input) => {
    asked.push(String(input));
    return new Response(JSON.stringify({ questions }));
  };
  return { asked, end: () => (globalThis.fetch = fetch) };
}

test('nothing is asked while a question is open, or before all that was detected is on the sheet', async () => {
  const server = serverSays([PAUSE]);
  const open = recordOf({ rallies: [answered(1), answered(3, { answers: {} })] });
  await open.missing.read();
  const coming = recordOf({ next: sheetOf().next, proposed: [{ start_us: 90e6, end_us: 95e6 }] });
  await coming.missing.read();
  assert.deepEqual([server.asked, open.mode, coming.mode], [[], 'ask', 'ask']);
  server.end();
});

test('the likeliest pause comes on the card by itself, with its reason, and its picture is wanted', async () => {
  const server = serverSays([PAUSE, SECOND]);
  const record = recordOf();
  let pictures = 0;
  record.onOpen = () => (pictures += 1);
  await record.missing.read();
  server.end();
  const view = cardView(record);
  assert.deepEqual([record.mode, view.ask, view.text, pictures], ['missing', 'Was there a rally here?', 'The pause is 31 s.', 1]);
  assert.deepEqual(view.answers?.map(({ words, key }) => [words, key]), [['No rally', '1'], ['There was one', '2']]);
});

test('a coach who has opened an older line is not led away', async () => {
  const server = serverSays([PAUSE]);
  const record = recordOf();
  record.goTo('r1');
  await record.missing.read();
  server.end();
  assert.deepEqual([record.mode, record.openKey, record.missing.questions.length], ['ask', 'r1', 1]);
  record.goOn();
  assert.equal(record.mode, 'missing');
});

test('no rally: a deleted span over the part that was played, then the next; one step back asks again', () => {
  const record = recordOf();
  record.missing.take([PAUSE, SECOND]);
  cardView(record).byKey['1']();
  const [span, removal] = said(record);
  assert.match(String(span[0]), /^pause-[0-9a-f]{8}$/);
  assert.deepEqual([span.slice(1), removal.slice(1), removal[0] === span[0]], [['span', { start_us: 36.5e6, end_us: 51.6e6, how: 'heard' }], ['remove', true], true]);
  assert.deepEqual([record.mode, record.missing.shown?.after], ['missing', 'r2']);
  assert.equal(record.rallies.length, 2);
  record.stepBack();
  assert.deepEqual(record.pending.slice(2).map(({ what, replaces }) => [what, replaces]), [
    ['undo', record.pending[1].id],
    ['undo', record.pending[0].id],
  ]);
});

test('after a reload one step back takes the pause back whole, and nothing comes to stand there', () => {
  const log = [
    { id: 'e1', rally: 'pause-1', what: 'span', how: 'heard' },
    { id: 'e2', rally: 'pause-1', what: 'remove', how: null },
  ];
  const record = recordOf({ log });
  record.stepBack();
  assert.deepEqual(record.pending.map(({ what, replaces }) => [what, replaces]), [['undo', 'e2'], ['undo', 'e1']]);
  assert.equal(record.rallies.length, 2);
});

test('there was one: a rally stands after the one before, with the time offered, and is asked about', () => {
  const record = recordOf();
  record.missing.take([PAUSE]);
  cardView(record).byKey['2']();
  assert.deepEqual(said(record), [
    ['r4', 'place', { after: 'r1' }],
    ['r4', 'span', { start_us: 38e6, end_us: 51e6, how: 'marked' }],
  ]);
  assert.deepEqual([record.mode, record.openKey, record.question?.id], ['ask', 'r4', 'serve.kind']);
  record.stepBack();
  assert.deepEqual(record.pending.slice(2).map(({ what, replaces }) => [what, replaces]), [
    ['undo', record.pending[1].id],
    ['undo', record.pending[0].id],
  ]);
});

test('not now: the pauses stay in the list, and come by themselves no more', () => {
  const record = recordOf();
  record.missing.take([PAUSE]);
  cardView(record).enter();
  assert.deepEqual([record.mode, record.missing.questions.length], ['ask', 1]);
  record.missing.take([PAUSE]);
  record.goOn();
  assert.equal(record.mode, 'ask');
  record.missing.open(PAUSE);
  assert.equal(record.mode, 'missing');
});

test('a pause that is no longer asked about leaves the card', () => {
  const record = recordOf();
  record.missing.take([PAUSE]);
  record.missing.take([]);
  assert.deepEqual([record.mode, record.missing.shown], ['ask', null]);
});

test('while a pause is on the card, the keys , and . set the time of the rally that may be added, not of the one behind', () => {
  const record = recordOf();
  record.missing.take([PAUSE]);
  record.now = () => 40e6;
  record.mark('start_us');
  record.now = () => 47e6;
  record.mark('end_us');
  assert.deepEqual([said(record), record.mode], [[], 'missing']);
  assert.match(record.notice, /press 2/);
  record.missing.take([{ ...PAUSE }]); // the server says the same again
  record.missing.add();
  assert.deepEqual(said(record)[1], ['r4', 'span', { start_us: 40e6, end_us: 47e6, how: 'marked' }]);
});

test('a time outside the pause, or an end before the start, is refused in words', () => {
  const record = recordOf();
  record.missing.take([PAUSE]);
  /** @type {[number, 'start_us' | 'end_us'][]} */
  const presses = [[20e6, 'start_us'], [65e6, 'end_us'], [30e6, 'end_us']];
  for (const [now, which] of presses) {
    record.now = () => now;
    record.mark(which);
    assert.notEqual(record.notice, '');
    assert.deepEqual([record.missing.shown?.likely_start_us, record.missing.shown?.likely_end_us, said(record)], [38e6, 51e6, []]);
    record.notice = '';
  }
});

test('a start set after the time offered leaves room for the rally up to the end of the pause', () => {
  const record = recordOf();
  record.missing.take([PAUSE]);
  record.now = () => 53e6;
  record.mark('start_us');
  assert.deepEqual([record.missing.shown?.likely_start_us, record.missing.shown?.likely_end_us], [53e6, 60e6]);
});

test('box, flag, note and call are for the rally behind: the pause is answered first', () => {
  const record = recordOf();
  record.missing.take([PAUSE]);
  for (const press of [() => record.otherBox(), () => record.keep(), () => record.turn('note'), () => record.turn('called')]) {
    record.notice = '';
    press();
    assert.deepEqual([said(record), record.mode, record.notice], [[], 'missing', 'Answer the pause first.']);
  }
});
