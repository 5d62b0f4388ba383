/* Rallies that are sure in every answer: they come last, ten are checked, the rest is one step, without a server. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { rallyOf, sheetOf } from './sheets.js';

globalThis.addEventListener = () => {};
globalThis.fetch = async () => Promise.reject(new TypeError('no server here'));
const { RecordCommands } = await import('../../src/goodlength/web/static/js/lib/logging/logging-commands.js');
const { cardView } = await import('../../src/goodlength/web/static/js/lib/logging/rally-card-states.js');

/** @typedef {import('../../src/goodlength/web/static/js/lib/server/message-types.js').BulkOffer} BulkOffer */

/** @param {number} n @param {object} [more] */
const drafted = (n, more = {}) =>
  rallyOf({ key: `r${n}`, n, answers: { winner: 'b' }, ids: { winner: `d${n}` }, drafted: ['winner'], start_us: n * 20e6, end_us: n * 20e6 + 9e6, span_how: 'heard', box_free: false, server: 'a', ...more });

/** Three drafted rallies at the depth score: the first is doubtful, of all the path proposes the kind. @param {Partial<BulkOffer>} [offer] */
function recordOf(offer = {}) {
  const { script } = sheetOf();
  const kind = { ...script.questions[1], extra: true };
  const winner = script.questions[2];
  const ending = { ...script.questions[1], id: /** @type {const} */ ('ending'), unless: [] };
  const rallies = [drafted(1, { to_confirm: ['winner'] }), drafted(2), drafted(3)];
  const questions = [kind, winner, ending];
  const record = new RecordCommands('m1', sheetOf({ rallies, next_key: 4, next: null, script: /** @type {typeof script} */ ({ ...script, depth: 'score', questions }) }), () => {});
  record.outbox.kick = async () => {};
  record.fromPaths = [1, 2, 3].map((n) => ({ start_us: n * 20e6, end_us: n * 20e6 + 9e6, answers: [{ what: 'serve.kind', value: 'lob', chance: 0.97 }] }));
  record.bulk.offer = { state: 'offered', sure: ['r2', 'r3'], sample: [], right: 0, wrong: 0, taken: 0, to_check: [], ask: '2 rallies are left', text: 'Check some.', ...offer };
  record.openKey = 'r1';
  return record;
}

/** @param {ReturnType<typeof recordOf>} record */
const said = (record) => record.pending.map(({ rally, what, value }) => [rally, what, value]);

/** Answer for the server, and say what was asked. @param {object} reply */
function serverSays(reply) {
  /** @type {string[]} */
  const asked = [];
  const { fetch } = globalThis;
  globalThis.fetch = async (input) => {
    asked.push(String(input));
    return new Response(JSON.stringify(String(input).includes('/bulk') ? reply : sheetOf()));
  };
  return { asked, end: () => (globalThis.fetch = fetch) };
}

test('doubtful rallies come first, and one press takes the kind of serve along with who won', () => {
  const record = recordOf();
  record.winnerOnly = true;
  assert.equal(record.firstOpenKey(), 'r1');
  assert.equal(record.question?.id, 'winner');
  record.answer('winner', 'b');
  assert.deepEqual(said(record).filter(([, what]) => what !== 'proposed'), [
    ['r1', 'serve.kind', 'lob'],
    ['r1', 'winner', 'b'],
    ['r1', 'ending', null],
  ]);
  assert.equal(record.mode, 'bulk'); // none is left but those that are sure
  const view = cardView(record);
  assert.deepEqual([view.ask, view.answers?.map((one) => one.key)], ['2 rallies are left', ['1', '2']]);
});

test('a let keeps the kind of serve that stands proposed', () => {
  const record = recordOf();
  record.answer('ending', 'let');
  assert.ok(said(record).some(([rally, what, value]) => rally === 'r1' && what === 'serve.kind' && value === 'lob'));
});

test('an offer counts though a newer one was asked for meanwhile, and an older one does not overtake it', async () => {
  const { fetch } = globalThis;
  /** @type {((sure: string[]) => void)[]} */
  const answers = [];
  globalThis.fetch = () =>
    new Promise((resolve) => {
      answers.push((sure) => resolve(new Response(JSON.stringify({ ...record.bulk.offer, sure }))));
    });
  const record = recordOf();
  try {
    const reads = [record.bulk.read(), record.bulk.read(), record.bulk.read()];
    answers[0](['r2']);
    await reads[0];
    assert.deepEqual([record.bulk.offer.sure, record.bulk.reading], [['r2'], true]);
    answers[2](['r3']);
    await reads[2];
    answers[1](['r2', 'r3']);
    await reads[1];
    assert.deepEqual([record.bulk.offer.sure, record.bulk.reading], [['r3'], false]);
  } finally {
    globalThis.fetch = fetch;
  }
});

test('one step back takes the kind of serve back with who won', () => {
  const record = recordOf();
  record.winnerOnly = true;
  record.answer('winner', 'b');
  record.stepBack();
  const undone = new Set(record.pending.filter((entry) => entry.what === 'undo').map((entry) => entry.replaces));
  assert.ok(record.pending.filter((entry) => entry.what !== 'undo' && entry.what !== 'proposed').every((entry) => undone.has(entry.id)));
  assert.equal(record.openKey, 'r1');
});

test('the kind that went along bears a tab of its own: nobody was asked for it', () => {
  const record = recordOf({ state: 'checking', sample: ['r2', 'r3'], sure: [] });
  record.openKey = 'r2';
  record.takeProposed();
  const tabs = Object.fromEntries(record.pending.map(({ what, observer }) => [what, observer.endsWith('-along')]));
  assert.deepEqual([tabs['serve.kind'], tabs.winner], [true, false]);
});

test('after the page is loaded anew a step back takes the kind back with who won', () => {
  const record = recordOf();
  const [first] = record.sheet.rallies;
  Object.assign(first, { drafted: [], to_confirm: [], answers: { 'serve.kind': 'lob', winner: 'b' }, ids: { 'serve.kind': 'k1', winner: 'w1' } });
  const log = /** @type {const} */ ([['k1', 'serve.kind', 'along'], ['w1', 'winner', null]]);
  record.sheet = { ...record.sheet, log: log.map(([id, what, how]) => ({ id, rally: 'r1', what, how })) };
  record.stepBack();
  assert.deepEqual(new Set(record.pending.map((entry) => entry.replaces)), new Set(['w1', 'k1']));
});

test('a kind that the path does not propose is asked, before who won', () => {
  const record = recordOf();
  record.winnerOnly = true;
  record.fromPaths = [];
  assert.equal(record.question?.id, 'serve.kind');
  record.answer('serve.kind', 'hard');
  assert.equal(record.question?.id, 'winner');
});

test('a rally of the sample is asked though the draft is sure of it, and counted on the card', () => {
  const record = recordOf({ state: 'checking', sample: ['r2', 'r3'], sure: [] });
  record.openKey = 'r2';
  assert.equal(record.question?.id, 'winner');
  const view = cardView(record);
  assert.equal(view.count, 'Check 1 of 2');
  view.enter();
  assert.deepEqual(said(record).filter(([, what]) => what !== 'proposed'), [
    ['r2', 'serve.kind', 'lob'],
    ['r2', 'winner', 'b'],
    ['r2', 'ending', null],
  ]);
});

test('a rally of the sample with a question skipped is named, and opened again', () => {
  const record = recordOf({ state: 'checking', sample: ['r2', 'r3'], sure: [], to_check: ['r3'] });
  const [, , third] = record.sheet.rallies;
  Object.assign(record.sheet.rallies[1], { drafted: [] });
  Object.assign(third, { drafted: [], answers: { winner: 'b', 'serve.kind': null, ending: null } });
  record.turn('bulk');
  const view = cardView(record);
  assert.equal(view.ask, '1 of 2 not checked: a question was skipped');
  view.answers?.[0].press();
  assert.deepEqual([record.mode, record.openKey], ['ask', 'r3']);
});

test('go through them one by one: they are open like any other', () => {
  const record = recordOf();
  record.winnerOnly = true;
  record.answer('winner', 'b');
  record.bulk.decline();
  assert.deepEqual([record.mode, record.openKey], ['ask', 'r2']);
});

test('a step back after taking them together undoes all of them, and says so to the server alone', async () => {
  const record = recordOf({ state: 'taken', sure: [], taken: 2 });
  record.turn('bulk');
  const server = serverSays({ ...record.bulk.offer, state: 'ready', sure: ['r2', 'r3'], taken: 0 });
  record.stepBack();
  await new Promise((resolve) => setTimeout(resolve, 20));
  server.end();
  assert.ok(server.asked[0].endsWith('/api/matches/m1/bulk/undo'));
  assert.equal(record.bulk.offer.state, 'ready');
  assert.deepEqual(record.pending, []);
});

test('nothing is drawn or taken while answers are on their way', async () => {
  const record = recordOf();
  record.line = { waiting: 1, connected: true, why: '' };
  const server = serverSays({});
  await record.bulk.draw();
  server.end();
  assert.deepEqual([server.asked, record.notice], [[], 'Some answers are not saved yet. Try again in a moment.']);
});

test('one wrong of the sample: the others come one by one', () => {
  const record = recordOf();
  record.winnerOnly = true;
  record.answer('winner', 'b');
  record.bulk.take({ ...record.bulk.offer, state: 'withdrawn', sample: ['r2'], wrong: 1 });
  assert.deepEqual([record.mode, record.openKey], ['ask', 'r2']);
  assert.match(record.notice, /1 of 1 was wrong/);
});

test('more than one wrong is said so', () => {
  const record = recordOf();
  record.bulk.offer = { ...record.bulk.offer, state: 'withdrawn', sample: ['r2', 'r3'], wrong: 2 };
  record.bulk.withdraw();
  assert.match(record.notice, /2 of 2 were wrong/);
});

test('what is taken unwatched is said whatever the state, and its undo leads to the first of them', async () => {
  const record = recordOf({ state: 'none', sure: [] });
  assert.equal(record.bulk.takenWords, '');
  for (const state of /** @type {const} */ (['taken', 'checking', 'ready', 'withdrawn'])) {
    record.bulk.offer = { ...record.bulk.offer, state, taken: 1 };
    assert.equal(record.bulk.takenWords, '1 rally taken unwatched.');
  }
  const server = serverSays({ ...record.bulk.offer, state: 'withdrawn', sample: ['r2', 'r3'], wrong: 1, taken: 0 });
  await record.bulk.undo();
  server.end();
  assert.ok(server.asked[0].endsWith('/api/matches/m1/bulk/undo'));
  assert.deepEqual([record.mode, record.bulk.takenWords], ['ask', '']);
  assert.match(record.notice, /open again/);
});

test('a rally that the answer before has made sure is leapt over, and one step back undoes that answer', () => {
  const record = recordOf({ state: 'offered', sure: ['r3'] });
  record.winnerOnly = true;
  let leaps = 0;
  record.onLeap = () => (leaps += 1);
  record.answer('winner', 'b');
  assert.equal(record.openKey, 'r2');
  record.bulk.take({ ...record.bulk.offer, sure: ['r2', 'r3'] });
  assert.deepEqual([record.mode, leaps], ['bulk', 1]);
  record.stepBack();
  assert.equal(record.openKey, 'r1');
});

test('a rally that the coach has opened or begun to answer stays, sure or not', () => {
  const record = recordOf({ state: 'offered', sure: ['r3'] });
  record.goTo('r2');
  record.bulk.take({ ...record.bulk.offer, sure: ['r2', 'r3'] });
  assert.equal(record.openKey, 'r2');
  const answering = recordOf({ state: 'offered', sure: ['r3'] });
  answering.winnerOnly = true;
  answering.answer('winner', 'b');
  answering.answer('serve.kind', 'hard');
  answering.bulk.take({ ...answering.bulk.offer, sure: ['r2', 'r3'] });
  assert.equal(answering.openKey, 'r2');
});

test('rallies that the first answers make sure are offered, though none was at the start', async () => {
  const record = recordOf({ state: 'none', sure: [], ask: '', text: '' });
  const server = serverSays({ state: 'offered', sure: ['r2', 'r3'], sample: [], right: 0, wrong: 0, taken: 0, to_check: [], ask: '2 rallies are left', text: '' });
  record.stored({ stored: [], sheet: record.sheet }, []);
  await new Promise((done) => setTimeout(done, 5));
  server.end();
  assert.deepEqual([record.bulk.offer.state, record.isLeft('r3')], ['offered', true]);
});
