/* Answers on their way to the server: nothing is lost, nothing is sent out of order, one refused holds up no other. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { NoConnectionError, RefusedError } from '../../src/goodlength/web/static/js/lib/server/json-requests.js';

globalThis.addEventListener = () => {}; // Node has no window that comes online
const { Outbox } = await import('../../src/goodlength/web/static/js/lib/server/offline-outbox.js');

const settled = () => new Promise((resolve) => setTimeout(resolve, 30));
const entries = (/** @type {string[]} */ ...ids) => ids.map((id) => ({ id }));

test('entries are sent in the order they were said, and leave once stored', async () => {
  /** @type {string[]} */
  const sent = [];
  const outbox = new Outbox({ name: 'a', batch: 2, send: async (batch) => void sent.push(batch.map((entry) => entry.id).join('+')) });
  outbox.add(entries('1', '2', '3'));
  await settled();
  assert.deepEqual(sent, ['1+2', '3']);
  assert.deepEqual(outbox.entries, []);
});

test('without a connection they wait, are told of, and are sent again', async () => {
  let works = false;
  /** @type {string[]} */
  const states = [];
  const send = async () => {
    if (!works) throw new NoConnectionError();
  };
  const outbox = new Outbox({ name: 'b', waitsMs: [5], send, onState: ({ waiting, connected }) => states.push(`${waiting} ${connected}`) });
  outbox.add(entries('1'));
  await settled();
  assert.equal(outbox.entries.length, 1);
  assert.equal(states.at(-1), '1 false');
  works = true;
  await settled();
  assert.equal(states.at(-1), '0 true');
});

test('a server that cannot store says why, and is asked again', async () => {
  let tries = 0;
  const send = async () => {
    tries += 1;
    if (tries === 1) throw new RefusedError(503, 'full', 'The disk is full.');
  };
  /** @type {string[]} */
  const why = [];
  const outbox = new Outbox({ name: 'c', waitsMs: [5], send, onState: (state) => why.push(state.why) });
  outbox.add(entries('1'));
  await settled();
  assert.ok(why.includes('The disk is full.'));
  assert.equal(tries, 2);
  assert.deepEqual(outbox.entries, []);
});

test('one entry refused is set aside and the others are stored', async () => {
  /** @type {string[]} */
  const stored = [];
  /** @type {string[]} */
  const refused = [];
  const send = async (/** @type {{id: string}[]} */ batch) => {
    if (batch.some((entry) => entry.id === 'bad')) throw new RefusedError(422, 'input', 'No such answer.');
    stored.push(...batch.map((entry) => entry.id));
  };
  const outbox = new Outbox({ name: 'd', send, onRefused: ([entry], error) => refused.push(`${entry.id}: ${error.words}`) });
  outbox.add(entries('1', 'bad', '2'));
  await settled();
  assert.deepEqual(stored, ['1', '2']);
  assert.deepEqual(refused, ['bad: No such answer.']);
  assert.deepEqual(outbox.entries, []);
});

test('a fault of our own is not taken for a lost connection', async () => {
  const outbox = new Outbox({ name: 'e', send: async () => Promise.reject(new TypeError('ours')) });
  outbox.entries.push(...entries('1'));
  await assert.rejects(outbox.kick(), TypeError);
  assert.equal(outbox.sending, false);
});

for (const status of [401, 403, 408, 429, 503]) {
  test(`what a server refuses for now, with ${status}, waits with its words and is not set aside`, async () => {
    let open = false;
    /** @type {string[]} */
    const aside = [];
    /** @type {string[]} */
    const why = [];
    const send = async () => {
      if (!open) throw new RefusedError(status, 'refused', 'Another library is open now.');
    };
    const outbox = new Outbox({ name: `now-${status}`, waitsMs: [5], send, onState: (state) => why.push(state.why), onRefused: ([entry]) => aside.push(entry.id) });
    outbox.add(entries('1', '2'));
    await settled();
    assert.deepEqual(outbox.entries, entries('1', '2'));
    assert.equal(why.at(-1), 'Another library is open now.');
    open = true;
    await settled();
    assert.deepEqual(outbox.entries, []);
    assert.deepEqual(aside, []);
  });
}
