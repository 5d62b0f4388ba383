/* Questions faster than answers: what is sent, and what is shown as new. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { newestRequest } from '../../src/goodlength/web/static/js/lib/server/newest-request.js';

/** A server that answers when told to, and a log of what the page did. */
function slowServer() {
  /** @type {{question: string, resolve: (answer: string) => void, reject: (problem: Error) => void}[]} */
  const sent = [];
  /** @type {string[]} */
  const log = [];
  const put = newestRequest({
    ask: (/** @type {string} */ question) => new Promise((resolve, reject) => sent.push({ question, resolve, reject })),
    show: (answer, newest) => log.push(`${answer}${newest ? '' : ' (old)'}`),
    stale: (stale) => log.push(stale ? 'grey' : 'clear'),
    fail: (problem) => log.push(`failed: ${/** @type {Error} */ (problem).message}`),
  });
  return { put, sent, log };
}

const settled = () => new Promise((done) => setTimeout(done, 0));

test('of ten questions during a calculation only the newest is sent after it', async () => {
  const { put, sent, log } = slowServer();
  for (let k = 0; k < 10; k++) put(`q${k}`);
  assert.deepEqual(sent.map((one) => one.question), ['q0']);
  sent[0].resolve('a0');
  await settled();
  assert.deepEqual(sent.map((one) => one.question), ['q0', 'q9']);
  sent[1].resolve('a9');
  await settled();
  assert.deepEqual(log.filter((line) => line !== 'grey'), ['a0 (old)', 'clear', 'a9']);
});

test('an answer to an earlier question stays grey', async () => {
  const { put, sent, log } = slowServer();
  put('first');
  put('second');
  sent[0].resolve('a1');
  await settled();
  assert.ok(!log.includes('clear'));
  assert.equal(log.at(-1), 'a1 (old)');
});

test('a failed newest question is said, and what is shown stays grey', async () => {
  const { put, sent, log } = slowServer();
  put('first');
  sent[0].reject(new Error('gone'));
  await settled();
  assert.deepEqual(log, ['grey', 'failed: gone']);
  put('again');
  sent[1].resolve('a2');
  await settled();
  assert.deepEqual(log.slice(2), ['grey', 'clear', 'a2']);
});

test('a failed earlier question is not said', async () => {
  const { put, sent, log } = slowServer();
  put('first');
  put('second');
  sent[0].reject(new Error('gone'));
  await settled();
  assert.ok(!log.some((line) => line.startsWith('failed')));
  assert.equal(sent[1].question, 'second');
});
