/* Everything that can be said on the Record page, without a browser and without a server. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { rallyOf, sheetOf } from './sheets.js';

globalThis.addEventListener = () => {};
globalThis.fetch = async () => Promise.reject(new TypeError('no server here')); // every answer stays on its way
const { RecordCommands } = await import('../../src/goodlength/web/static/js/lib/logging/logging-commands.js');

/** @param {Parameters<typeof sheetOf>[0]} [more] @param {number | null} [now] */
function recordOf(more = {}, now = 20_000_000) {
  const record = new RecordCommands('m1', sheetOf(more), () => {});
  record.outbox.kick = async () => {};
  record.now = () => now;
  return record;
}

const said = (/** @type {ReturnType<typeof recordOf>} */ record) => record.pending.map(({ rally, what, value }) => [rally, what, value]);

test('the first answer says where the rally began and the box that was shown', () => {
  const record = recordOf();
  record.answer('serve.kind', 'lob');
  assert.deepEqual(said(record), [
    ['r1', 'span', { start_us: 19_000_000, end_us: null, how: 'answers' }],
    ['r1', 'box', 'right'],
    ['r1', 'serve.kind', 'lob'],
  ]);
  assert.equal(record.question?.id, 'winner');
});

test('a box that the rules give is not said', () => {
  /** @type {import('../../src/goodlength/web/static/js/lib/server/message-types.js').NextRally} */
  const next = { game: 1, server: 'a', box: 'left', box_free: false, points: [1, 0], set_choice: false, opening: '' };
  const record = recordOf({ next }, null);
  record.answer('serve.kind', 'lob');
  assert.deepEqual(said(record), [['r1', 'serve.kind', 'lob']]);
});

test('without a time of the footage nothing is said of it', () => {
  const record = recordOf({}, null);
  record.answer('serve.kind', 'lob');
  assert.deepEqual(said(record).map(([, what]) => what), ['box', 'serve.kind']);
  record.mark('start_us');
  assert.equal(record.notice, 'The time in the video is not known yet.');
});

test('the answer that ends the rally says where it ended', () => {
  const record = recordOf();
  record.answer('serve.kind', 'lob');
  record.now = () => 26_000_000;
  record.answer('winner', 'b');
  assert.deepEqual(said(record).at(-1), ['r1', 'span', { start_us: 19_000_000, end_us: 26_000_000, how: 'answers' }]);
});

test('a rally that was detected gives its time to the one answered', () => {
  const record = recordOf({ proposed: [{ start_us: 18_500_000, end_us: 30_000_000, doubtful: false }] });
  record.answer('serve.kind', 'lob');
  assert.deepEqual(said(record)[0], ['r1', 'span', { start_us: 18_500_000, end_us: 30_000_000, how: 'heard' }]);
  assert.deepEqual(record.toCome, []);
});

test('a step back takes back the answer, and the unasked with the first one', () => {
  const record = recordOf();
  record.answer('serve.kind', 'lob');
  record.stepBack();
  assert.deepEqual(record.rallies, []);
  assert.equal(record.question?.id, 'serve.kind');
  record.stepBack();
  assert.equal(record.notice, 'There is no answer to step back to.');
});

test('a marked end before its start is refused, a start after the end opens it again', () => {
  const record = recordOf({ rallies: [rallyOf({ start_us: 10e6, end_us: 15e6, span_how: 'marked' })] });
  record.openKey = 'r1';
  record.now = () => 5_000_000;
  record.mark('end_us');
  assert.match(record.notice, /cannot end before it starts/);
  assert.deepEqual(record.pending, []);
  record.now = () => 16_000_000;
  record.mark('start_us');
  assert.deepEqual(said(record), [['r1', 'span', { start_us: 16_000_000, end_us: null, how: 'marked' }]]);
});

test('shots are struck in turn, and the last word counts them', () => {
  const record = recordOf({ rallies: [rallyOf({ server: 'a', start_us: 10e6, end_us: 15e6 })], next: null }, null);
  record.openKey = 'r1';
  record.answer('shot', 'drive');
  record.answer('shot', 'end');
  assert.deepEqual(said(record).filter(([, what]) => what === 'shot'), [
    ['r1', 'shot', { n: 3, by: 'a', stroke: 'drive' }],
    ['r1', 'shot', { count: 3 }],
  ]);
});

test('what happened between rallies stands under a key of its own', () => {
  const record = recordOf();
  record.between({ words: 'Conduct game', what: 'conduct', game: true }, 'b');
  record.between({ words: 'A player retired', what: 'retired', why: 'retired' }, 'a');
  assert.deepEqual(record.pending.map(({ what, value }) => [what, value]), [
    ['conduct', { to: 'b', game: true }],
    ['retired', { side: 'a', why: 'retired' }],
  ]);
  assert.match(record.pending[0].rally, /^conduct-[0-9a-f]{8}$/);
  assert.deepEqual(record.rallies, []);
});

test('a score put right goes to the rally before, while this one is open', () => {
  const record = recordOf({ rallies: [rallyOf({ answers: { 'serve.kind': 'lob', winner: 'a', shot: null }, complete: true })], next_key: 2 }, null);
  record.openKey = record.freshKey();
  record.putRight({ points: [1, 0] });
  assert.equal(record.openKey, 'r2');
  assert.deepEqual(said(record), [['r1', 'called', { points: [1, 0] }]]);
});

test('a forgotten rally is put after the one in hand', () => {
  const record = recordOf({ rallies: [rallyOf()], next_key: 2 });
  record.openKey = 'r1';
  record.insertAfter();
  assert.deepEqual(said(record), [['r2', 'place', { after: 'r1' }]]);
  assert.equal(record.openKey, 'r2');
});

test('two times given unasked are joined once', () => {
  const clash = { rally: 'r1', standing: 'e9', value: { start_us: 1, end_us: 9, how: /** @type {const} */ ('answers') } };
  const sheet = sheetOf({ rallies: [rallyOf()], span_clashes: [clash] });
  const record = recordOf({ rallies: [rallyOf()] });
  record.stored({ stored: [], sheet }, []);
  record.stored({ stored: [], sheet }, []);
  assert.deepEqual(record.pending.map(({ what, value, replaces }) => [what, value, replaces]), [['span', clash.value, 'e9']]);
});

test('what an answer changed is laid over the sheet, and the next one says which version is held', () => {
  const record = recordOf({ version: 'run.1' }, null);
  record.stored({ stored: ['e1'], changes: { since: 'run.1', version: 'run.2', parts: { next_key: 2 }, rallies: [rallyOf({ key: 'r1', note: 'Late' })], scores: null, order: null } }, []);
  assert.deepEqual([record.sheet.version, record.sheet.next_key, record.sheet.rallies[0].note], ['run.2', 2, 'Late']);
});

test('changes that follow another version ask for the whole sheet, and the one held stays till it comes', async () => {
  const record = recordOf({ version: 'run.7' }, null);
  /** @type {unknown[]} */
  const asked = [];
  const { fetch } = globalThis;
  globalThis.fetch = async (path) => {
    asked.push(path);
    return new Response(JSON.stringify({ ...sheetOf({ version: 'run.9', rallies: [rallyOf({ key: 'r1' })] }) }));
  };
  record.stored({ stored: ['e1'], changes: { since: 'run.2', version: 'run.3', parts: {}, rallies: [], scores: null, order: null } }, []);
  assert.equal(record.sheet.version, 'run.7');
  await new Promise((resolve) => setTimeout(resolve, 20));
  globalThis.fetch = fetch;
  assert.deepEqual(asked, ['/api/matches/m1/sheet?follow=true']);
  assert.deepEqual([record.sheet.version, record.sheet.rallies.length], ['run.9', 1]);
});

test('a whole sheet that comes late and is older than the one held is passed over', async () => {
  const record = recordOf({ version: 'run.7', next_key: 4 }, null);
  const { fetch } = globalThis;
  globalThis.fetch = async () => new Response(JSON.stringify(sheetOf({ version: 'run.6', next_key: 3 })));
  await record.refresh();
  globalThis.fetch = fetch;
  assert.equal(record.sheet.next_key, 4);
});

/** A sheet of the depth "score": who won, and how it ended. */
function scoreRecord() {
  const { script } = sheetOf();
  const winner = script.questions.find((one) => one.id === 'winner');
  const ending = { ...script.questions[1], id: 'ending', unless: [] };
  const record = recordOf({ script: /** @type {typeof script} */ ({ ...script, questions: [winner, ending] }) }, null);
  record.winnerOnly = true;
  return record;
}

test('where only the winner is wanted, one press ends a rally and one step back undoes it', () => {
  const record = scoreRecord();
  record.answer('winner', 'b');
  assert.deepEqual(said(record).filter(([, what]) => what !== 'box'), [
    ['r1', 'winner', 'b'],
    ['r1', 'ending', null],
  ]);
  assert.equal(record.openKey, 'r2');
  record.answer('winner', 'a');
  assert.equal(record.openKey, 'r3');
  record.stepBack();
  assert.equal(record.openKey, 'r2');
  assert.equal(record.question?.id, 'winner');
  assert.equal(record.rallies.find((one) => one.key === 'r1')?.answers.winner, 'b');
});

test('how it ended is asked where the coach wants it', () => {
  const record = scoreRecord();
  record.winnerOnly = false;
  record.answer('winner', 'b');
  assert.equal(record.question?.id, 'ending');
});

const drafted = (/** @type {object} */ more = {}) =>
  rallyOf({ answers: { 'serve.kind': 'lob', winner: 'b' }, ids: { winner: 'd1' }, drafted: ['winner'], to_confirm: ['winner'], box_free: false, ...more });

test('a winner that the draft is in doubt of is asked, and Enter accepts it', async () => {
  const { cardView } = await import('../../src/goodlength/web/static/js/lib/logging/rally-card-states.js');
  const record = recordOf({ rallies: [drafted()], next_key: 2 }, null);
  record.openKey = 'r1';
  assert.equal(record.question?.id, 'winner');
  const view = cardView(record);
  assert.deepEqual(view.answers?.map((one) => one.proposed ?? ''), ['', 'proposed by the draft']);
  view.enter();
  assert.deepEqual(record.pending.map(({ what, value, replaces }) => [what, value, replaces]), [['winner', 'b', 'd1']]);
  assert.equal(record.question?.id, 'shot');
});

test('a winner that the draft is sure of is not asked', () => {
  const record = recordOf({ rallies: [drafted({ to_confirm: [] })], next_key: 2 }, null);
  record.openKey = 'r1';
  assert.equal(record.question?.id, 'shot');
});

test('an answer that decides the rally otherwise takes the winner of the draft away', () => {
  const record = recordOf({ rallies: [drafted()], next_key: 2 }, null);
  record.openKey = 'r1';
  record.answer('ending', 'let');
  assert.deepEqual(record.pending.map(({ what, value, replaces }) => [what, value, replaces]), [
    ['undo', null, 'd1'],
    ['ending', 'let', null],
  ]);
  assert.equal('winner' in record.rally.answers, false);
});

test('a winner that a person gave stands beside such an answer, and the sheet tells of both', () => {
  const record = recordOf({ rallies: [drafted({ drafted: [], to_confirm: [] })], next_key: 2 }, null);
  record.openKey = 'r1';
  record.answer('ending', 'let');
  assert.deepEqual(said(record), [['r1', 'ending', 'let']]);
});

/** What stands in question on the card, and what the draft proposes for it. @param {ReturnType<typeof recordOf>} record */
const openWinner = (record) => [record.question?.id, record.rally.answers.winner, record.rally.drafted, record.rally.to_confirm];

test('a step back over an answer that took the winner of the draft away gives it back', () => {
  const record = recordOf({ rallies: [drafted()], next_key: 2 }, null);
  record.openKey = 'r1';
  record.answer('ending', 'let');
  record.stepBack();
  assert.deepEqual(openWinner(record), ['winner', 'b', ['winner'], ['winner']]);
  assert.equal(record.pending.filter((entry) => entry.what === 'undo').length, 3); // of the winner, of the let, of the first undo
});

test('so does a step back over one that is stored already', () => {
  for (const to_confirm of [true, false]) {
    const rallies = [drafted({ answers: { 'serve.kind': 'lob', ending: 'let' }, ids: { ending: 'e2' }, drafted: [], to_confirm: [], let: true })];
    const overruled = { undo: 'e1', id: 'd1', winner: /** @type {const} */ ('b'), to_confirm };
    const log = [{ id: 'e2', rally: 'r1', what: /** @type {const} */ ('ending'), how: null, overruled }];
    const record = recordOf({ rallies, log, next_key: 2 }, null);
    record.openKey = 'r1';
    record.stepBack();
    assert.deepEqual(record.pending.map(({ what, replaces }) => [what, replaces]), [['undo', 'e2'], ['undo', 'e1']]);
    assert.deepEqual(openWinner(record), to_confirm ? ['winner', 'b', ['winner'], ['winner']] : ['shot', 'b', ['winner'], []]);
  }
});

test('a detected rally that nobody has answered can be taken off as none, and comes back with a step', () => {
  const record = recordOf({ rallies: [drafted({ answers: { winner: 'b', box: 'left', server: 'a' }, span_how: 'heard' })], next_key: 2 }, null);
  record.openKey = 'r1';
  record.noRally();
  assert.equal(record.rallies.length, 0);
  record.stepBack();
  assert.equal(record.rallies.length, 1);
});

test('one that a person has answered, or marked, is not taken off by the key', () => {
  for (const more of [{ span_how: 'heard' }, { span_how: 'marked', start_us: 10e6, end_us: 15e6, answers: { winner: 'b' } }]) {
    const record = recordOf({ rallies: [drafted(/** @type {object} */ (more))], next_key: 2 }, null);
    record.openKey = 'r1';
    record.noRally();
    assert.deepEqual(record.pending, []);
    assert.match(record.notice, /no answers yet/);
  }
});

test('one with a note, the flag, a measured serve or shots is not taken off by the key', () => {
  const shots = [{ n: 3, by: /** @type {const} */ ('a'), stroke: /** @type {const} */ ('drive') }];
  for (const more of [{ note: 'Late' }, { keep: true }, { measured: '31 m/s' }, { shots }, { shots_in_all: 4 }]) {
    const record = recordOf({ rallies: [drafted({ answers: { winner: 'b' }, span_how: 'heard', ...more })], next_key: 2 }, null);
    record.openKey = 'r1';
    assert.equal(record.mayBeNone, false);
    record.noRally();
    assert.deepEqual(record.pending, []);
  }
});

/** Rallies of a draft, each with its winner. */
function draftedRallies(numbers = [1, 2, 3]) {
  const rallies = numbers.map((n) => drafted({ key: `r${n}`, n, answers: { winner: 'b' }, ids: { winner: `d${n}` }, span_how: 'heard', start_us: n * 20e6, end_us: n * 20e6 + 9e6 }));
  const log = numbers.flatMap((n) => [
    { id: `s${n}`, rally: `r${n}`, what: /** @type {const} */ ('span'), how: 'heard' },
    { id: `d${n}`, rally: `r${n}`, what: /** @type {const} */ ('winner'), how: null },
  ]);
  const record = recordOf({ rallies, log, next_key: numbers.length + 1 }, null);
  record.openKey = 'r1';
  return { record, rallies, log };
}

test('a step back after a rally was taken off brings it back, and leaves the next one alone', () => {
  const { record, rallies } = draftedRallies();
  record.noRally();
  assert.equal(record.openKey, 'r2');
  record.stepBack();
  assert.equal(record.openKey, 'r1');
  assert.deepEqual(record.rallies.map(({ key, answers, span_how }) => [key, answers.winner, span_how]), rallies.map(({ key }) => [key, 'b', 'heard']));
});

test('in an earlier rally chosen since, a step back leaves the deletion of another alone', () => {
  const { record, log } = draftedRallies([1, 2, 3, 4]);
  record.noRally(); // it names what this window saw last of the whole log
  record.goTo('r3');
  record.stepBack();
  assert.deepEqual(record.pending.map(({ rally, what, replaces }) => [rally, what, replaces]), [['r1', 'remove', log.at(-1)?.id], ['r3', 'undo', 'd3']]);
  assert.equal(record.openKey, 'r3');
});

test('two deleted one after the other come back one after the other, and it is said', () => {
  const { record } = draftedRallies();
  record.noRally();
  record.noRally();
  assert.equal(record.openKey, 'r3');
  record.stepBack();
  assert.equal(record.openKey, 'r2');
  record.stepBack();
  assert.equal(record.openKey, 'r1');
  assert.equal(record.notice, 'The rally stands again.');
});

test('so it does once the server has stored the deletion, and before it has heard of the step', () => {
  const { record, rallies, log } = draftedRallies();
  record.noRally();
  const [remove] = record.pending;
  record.outbox.entries = [];
  record.stored({ stored: [remove.id], sheet: sheetOf({ rallies: rallies.slice(1).map((row, n) => ({ ...row, n: n + 1 })), log: [...log, { id: remove.id, rally: 'r1', what: 'remove', how: null }], next_key: 4 }) }, [remove]);
  record.stepBack();
  assert.deepEqual(record.pending.map(({ rally, what, replaces }) => [rally, what, replaces]), [['r1', 'undo', remove.id]]);
  assert.deepEqual(record.rallies.map(({ key, answers }) => [key, answers.winner]), rallies.map(({ key }) => [key, 'b']));
});

test('a rally that another tab took off is not brought back by a step back here', () => {
  const { record, rallies, log } = draftedRallies();
  record.hold(sheetOf({ rallies: rallies.slice(1), log: [...log, { id: 'x9', rally: 'r1', what: 'remove', how: null }], next_key: 4 }));
  record.openKey = 'r2';
  record.stepBack();
  assert.deepEqual(record.pending.map(({ rally, replaces }) => [rally, replaces]), [['r2', 'd2']]);
});

/** What the ball's path says of a rally. @param {number} from @param {{what: string, value: string, chance: number}[]} answers */
const pathOf = (from, answers) => /** @type {ReturnType<typeof recordOf>['fromPaths']} */ ([{ start_us: from, end_us: from + 9e6, answers }]);
const LOB = { what: 'serve.kind', value: 'lob', chance: 0.97 };

test('a step back over a proposed answer takes what was proposed along, and no rally stays', () => {
  const found = recordOf({ proposed: [{ start_us: 18_500_000, end_us: 30_000_000, doubtful: false }] });
  found.fromPaths = pathOf(18_500_000, [LOB]);
  found.answer('serve.kind', 'lob');
  const shown = found.pending.find((entry) => entry.what === 'proposed');
  found.stepBack();
  assert.deepEqual(found.rallies, []);
  assert.ok(found.pending.some((entry) => entry.what === 'undo' && entry.replaces === shown?.id));
  found.answer('serve.kind', 'lob');
  assert.equal(found.pending.filter((entry) => entry.what === 'proposed').length, 2);
});

test('so it does over answers that are stored, in an earlier rally too', () => {
  const rallies = [1, 2].map((n) => rallyOf({ key: `r${n}`, n, answers: { 'serve.kind': 'lob' }, ids: { proposed: `p${n}`, 'serve.kind': `k${n}` }, start_us: n * 20e6, end_us: n * 20e6 + 9e6, span_how: 'marked', box_free: false }));
  const log = [1, 2].flatMap((n) => [
    { id: `p${n}`, rally: `r${n}`, what: /** @type {const} */ ('proposed'), how: null },
    { id: `k${n}`, rally: `r${n}`, what: /** @type {const} */ ('serve.kind'), how: null },
  ]);
  for (const n of [1, 2]) {
    const record = recordOf({ rallies, log, next_key: 3 }, null);
    record.openKey = `r${n}`;
    record.fromPaths = pathOf(n * 20e6, [LOB]);
    record.stepBack();
    assert.deepEqual(record.pending.map(({ replaces }) => replaces), [`k${n}`, `p${n}`]);
    record.answer('serve.kind', 'lob');
    assert.deepEqual(said(record).slice(2).map(([, what]) => what), ['proposed', 'serve.kind']);
  }
});

test('what was proposed makes no rally by itself, and is no answer', () => {
  const record = recordOf({ rallies: [drafted({ answers: { winner: 'b' }, span_how: 'heard' })], next_key: 2 }, null);
  const value = /** @type {import('../../src/goodlength/web/static/js/lib/server/message-types.js').EntryValues['proposed']} */ ({ by: 'ball-path', answers: [LOB] });
  record.openKey = 'r2';
  record.send([record.entry('proposed', value)]);
  assert.deepEqual(record.rallies.map((rally) => rally.key), ['r1']);
  record.openKey = 'r1';
  record.send([record.entry('proposed', value)]);
  assert.equal(record.mayBeNone, true);
});

test('a proposal of a detected rally is not shown in a listed one that has no time', () => {
  const record = recordOf({ rallies: [rallyOf({ answers: { winner: 'a' }, ids: { winner: 'w1' } })], next_key: 2, proposed: [{ start_us: 18_500_000, end_us: 30_000_000, doubtful: false }] });
  record.fromPaths = pathOf(18_500_000, [LOB]);
  record.openKey = 'r1';
  assert.equal(record.pathAnswer('serve.kind'), null);
  assert.deepEqual(record.pathAnswers, []);
  record.openKey = 'r2';
  assert.equal(record.pathAnswer('serve.kind')?.value, 'lob');
});

test('only what the script asks is proposed, and kept as proposed', async () => {
  const { cardView } = await import('../../src/goodlength/web/static/js/lib/logging/rally-card-states.js');
  const record = recordOf({ proposed: [{ start_us: 18_500_000, end_us: 30_000_000, doubtful: false }] });
  record.fromPaths = pathOf(18_500_000, [LOB, { what: 'return.how', value: 'volleyed', chance: 0.95 }]);
  assert.deepEqual(cardView(record).pieces?.filter((piece) => piece.proposed).map((piece) => piece.words), ['a lob']);
  record.answer('serve.kind', 'lob');
  const kept = record.pending.find((entry) => entry.what === 'proposed');
  assert.deepEqual(kept?.value, { by: 'ball-path', answers: [LOB] });
});

const RETURNED = [LOB, { what: 'return.how', value: 'volleyed', chance: 0.95 }, { what: 'return.stroke', value: 'drive', chance: 0.96 }, { what: 'return.left', value: 'tight', chance: 0.95 }];

/** A drafted rally at the depth serve and return, with what its path says. @param {{what: string, value: string, chance: number, if_winner?: string, if_server?: string}[]} more */
function returnedRally(more) {
  const ask = (/** @type {string} */ id) => ({ id, ask: id, answers: [], unless: [], extra: false, repeats: false, when: '', free_words: false });
  const ids = ['serve.kind', 'return.how', 'return.stroke', 'return.left', 'winner', 'ending'];
  const first = rallyOf({ key: 'r1', n: 1, answers: { winner: 'a' }, drafted: ['winner'], ids: { winner: 'd1' }, start_us: 18_500_000, end_us: 27_500_000, span_how: 'heard', box_free: false });
  const second = rallyOf({ key: 'r2', n: 2, answers: {}, start_us: 40e6, end_us: 49e6, span_how: 'heard', box_free: false });
  const record = recordOf({ rallies: [first, second], next_key: 3, proposed: [] }, null);
  const { script } = record.sheet;
  record.sheet = { ...record.sheet, script: /** @type {typeof script} */ ({ ...script, depth: 'serve-and-return', along: ['return.stroke'], questions: ids.map(ask) }) };
  record.fromPaths = pathOf(18_500_000, [...RETURNED, ...more]);
  record.openKey = 'r1';
  return record;
}

test('one press takes all that stands proposed, up to what nothing is proposed to', () => {
  const record = returnedRally([]);
  record.takeProposed();
  assert.equal(record.openKey, 'r1');
  assert.equal(record.question?.id, 'ending');
  assert.deepEqual(said(record).map(([, what]) => what), ['proposed', 'serve.kind', 'return.how', 'return.left']);
  record.answer('ending', 'unforced-error');
  assert.deepEqual(said(record).slice(4).map(([, what]) => what), ['return.stroke', 'ending']);
  record.stepBack();
  assert.equal(record.question?.id, 'ending');
  assert.equal(record.pathAnswer('return.stroke')?.value, 'drive');
});

test('where all is proposed one press takes the rally, and the next one comes', () => {
  const record = returnedRally([{ what: 'ending', value: 'winner', chance: 0.95, if_winner: 'a' }]);
  record.takeProposed();
  assert.equal(record.openKey, 'r2');
  assert.equal(record.rallies[0].answers.ending, 'winner');
  assert.equal(record.rallies[0].answers['return.stroke'], 'drive');
});

test('who won with one press a rally passes no ending that stands proposed', () => {
  const record = returnedRally([{ what: 'ending', value: 'winner', chance: 0.95, if_winner: 'a' }]);
  record.winnerOnly = true;
  record.takeProposed();
  assert.equal(record.rallies[0].answers.ending, 'winner');
});

test('an ending of the other player’s is not proposed', () => {
  const record = returnedRally([{ what: 'ending', value: 'winner', chance: 0.95, if_winner: 'b' }]);
  assert.equal(record.pathAnswer('ending'), null);
});

test('an ending is proposed for the server that stands, also once that was corrected', () => {
  const record = returnedRally([{ what: 'ending', value: 'winner', chance: 0.95, if_winner: 'a', if_server: 'b' }]);
  assert.equal(record.pathAnswer('ending'), null);
  record.send([record.entry('server', 'b')]);
  assert.equal(record.pathAnswer('ending')?.value, 'winner');
  record.send([record.entry('winner', 'b')]);
  assert.equal(record.pathAnswer('ending'), null);
});

test('a question opened again is answered alone', () => {
  const record = returnedRally([]);
  record.reopen('return.left');
  record.takeProposed();
  assert.deepEqual(said(record).map(([, what]) => what), ['proposed', 'return.left']);
});

test('a step back over a winner of one’s own does not bring the draft’s back, once that was stepped over', () => {
  const record = recordOf({ rallies: [drafted({ to_confirm: [] })], log: [{ id: 'd1', rally: 'r1', what: 'winner', how: null }], next_key: 2 }, null);
  record.openKey = 'r1';
  record.stepBack();
  assert.deepEqual(openWinner(record).slice(0, 2), ['winner', undefined]);
  record.answer('winner', 'a');
  record.stepBack();
  assert.deepEqual(openWinner(record).slice(0, 2), ['winner', undefined]);
});

test('a step back after one press took a rally undoes all of that press, and leaves the draft of the next one', () => {
  const record = returnedRally([{ what: 'ending', value: 'winner', chance: 0.95, if_winner: 'a' }]);
  const [first, second] = record.sheet.rallies;
  const log = [first, { ...second, ids: { winner: 'd2' } }].map(({ key, ids }) => ({ id: ids.winner ?? '', rally: key, what: /** @type {const} */ ('winner'), how: null }));
  record.sheet = { ...record.sheet, rallies: [first, { ...second, answers: { winner: 'b' }, drafted: ['winner'], ids: { winner: 'd2' } }], log };
  record.takeProposed();
  assert.equal(record.openKey, 'r2');
  const taken = record.pending.map(({ id }) => id);
  record.stepBack();
  const undone = record.pending.slice(taken.length);
  assert.deepEqual(undone.map(({ rally, what, replaces }) => [rally, what, replaces]), taken.toReversed().map((id) => ['r1', 'undo', id]));
  assert.deepEqual([record.openKey, record.rally.answers, record.question?.id], ['r1', { winner: 'a' }, 'serve.kind']);
  assert.equal(record.rallies[1].answers.winner, 'b');
});

test('so it does where that rally was the last, and after another such press in its turn', () => {
  const record = returnedRally([{ what: 'ending', value: 'winner', chance: 0.95, if_winner: 'a' }]);
  const [first, second] = record.sheet.rallies;
  record.sheet = { ...record.sheet, rallies: [first, { ...first, key: 'r2', n: 2, ids: { winner: 'd2' } }, { ...second, key: 'r3', n: 3 }], next_key: 4 };
  record.takeProposed();
  record.takeProposed();
  assert.equal(record.openKey, 'r3');
  record.stepBack();
  assert.deepEqual([record.openKey, record.rally.answers], ['r2', { winner: 'a' }]);
  record.stepBack();
  assert.deepEqual([record.openKey, record.rally.answers], ['r1', { winner: 'a' }]);
});

test('a press for who won is undone by one step back in a drafted rally that came next', () => {
  const record = scoreRecord();
  const rallies = [1, 2, 3].map((n) => drafted({ key: `r${n}`, n, answers: { winner: 'b' }, ids: { winner: `d${n}` } }));
  record.sheet = { ...record.sheet, rallies, log: rallies.map(({ key, ids }) => ({ id: ids.winner ?? '', rally: key, what: 'winner', how: null })), next_key: 4 };
  record.openKey = 'r1';
  record.answer('winner', 'a');
  assert.equal(record.openKey, 'r2');
  record.stepBack();
  assert.equal(record.openKey, 'r1');
  assert.deepEqual(record.pending.filter(({ what }) => what === 'undo').map(({ rally }) => rally), ['r1', 'r1']);
  assert.deepEqual(record.rallies[1].drafted, ['winner']);
});

test('an answer given since is stepped over first', () => {
  const record = scoreRecord();
  const rallies = [1, 2, 3].map((n) => drafted({ key: `r${n}`, n, answers: { winner: 'b' }, ids: { winner: `d${n}` } }));
  record.sheet = { ...record.sheet, rallies, next_key: 4 };
  record.openKey = 'r1';
  record.answer('winner', 'a');
  record.reopen('serve.kind');
  record.answer('serve.kind', 'hard');
  record.stepBack();
  assert.equal(record.openKey, 'r2');
  record.stepBack();
  assert.equal(record.openKey, 'r1');
});

test('a detected rally that is none is deleted before it has an answer, and the next one comes', () => {
  const proposed = [18, 40].map((s) => ({ start_us: s * 1e6, end_us: (s + 9) * 1e6, doubtful: s === 18 }));
  const record = recordOf({ proposed });
  assert.equal(record.detectedInHand?.doubtful, true);
  record.noRally();
  const [{ rally: key }] = record.pending;
  assert.deepEqual(said(record), [
    [key, 'span', { start_us: 18e6, end_us: 27e6, how: 'heard' }],
    [key, 'remove', true],
  ]);
  assert.equal(record.notice, 'The rally at 0:18.0 was deleted.');
  assert.deepEqual([record.openKey, record.rallies, record.toCome], ['r1', [], [proposed[1]]]);
  record.stepBack();
  assert.deepEqual([record.openKey, record.rallies.map((rally) => [rally.key, rally.start_us])], [key, [[key, 18e6]]]);
  assert.equal(record.question?.id, 'serve.kind');
});

test('where no detected rally is to come, no rally is deleted by the key', () => {
  const record = recordOf();
  record.noRally();
  assert.deepEqual(said(record), []);
  assert.match(record.notice, /deletes a detected rally/);
});

test('a detected rally that comes much later than the picture is not deleted', () => {
  const record = recordOf({ proposed: [{ start_us: 600e6, end_us: 610e6, doubtful: false }] });
  assert.equal(record.mayBeNone, false);
  record.noRally();
  assert.deepEqual(said(record), []);
  assert.match(record.notice, /none was detected at the time shown/);
  record.answer('serve.kind', 'lob');
  assert.deepEqual(said(record)[0], ['r1', 'span', { start_us: 19e6, end_us: null, how: 'answers' }]);
});

test('a deletion never takes the key of a rally that another window may answer', () => {
  const record = recordOf({ proposed: [{ start_us: 18e6, end_us: 27e6, doubtful: false }] });
  const next = record.openKey;
  record.noRally();
  assert.ok(record.pending.length === 2 && record.pending.every(({ rally }) => rally !== next));
  assert.equal(record.freshKey(), next);
});

test('a deletion undone in another window brings the detected rally back here', () => {
  const proposed = [{ start_us: 18e6, end_us: 27e6, doubtful: false }];
  const record = recordOf({ proposed, version: 'run.1' });
  record.noRally();
  record.hold(sheetOf({ proposed, version: 'run.2' })); // somebody's note: the deletion is still on its way
  assert.deepEqual(record.toCome, []);
  const sent = record.pending;
  record.outbox.entries = [];
  record.stored({ stored: sent.map(({ id }) => id), sheet: sheetOf({ proposed: [], version: 'run.3' }) }, sent);
  assert.deepEqual(record.toCome, []);
  record.hold(sheetOf({ proposed, version: 'run.4' }));
  assert.deepEqual(record.toCome, proposed);
});
