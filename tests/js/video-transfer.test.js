/* A phone sends a video: cuts, lost answers, a session that ends, a full disk, another phone; the bytes and hash that arrive. */

import assert from 'node:assert/strict';
import { createHash } from 'node:crypto';
import test from 'node:test';

import { fingerprint, sendVideo } from '../../src/goodlength/web/static/js/lib/server/video-transfer.js';

const PIECE = 1000;
const data = Uint8Array.from({ length: 5 * PIECE + 123 }, (_, k) => (k * 7 + (k >> 8)) & 255);
const video = new File([data], 'IMG 1.MOV');
const sha = (/** @type {Uint8Array} */ bytes) => createHash('sha256').update(bytes).digest('hex');
const json = (/** @type {object} */ body, status = 200) => new Response(JSON.stringify(body), { status });
const refusal = (/** @type {number} */ status, /** @type {string} */ words) => json({ error: { kind: 'refused', words } }, status);

/** A server of one video that behaves like `tasks.transfer`; `way` may answer, or break, a request in its place. */
function server(/** @type {(n: number, path: string, answer: () => Response) => Response | undefined} */ way = () => undefined) {
  const state = { received: 0, phase: 'receiving', words: '', bytes: new Uint8Array(data.length), log: /** @type {string[]} */ ([]), sha256: '' };
  const transfer = () => json({ id: 't1', name: video.name, size: data.length, received: state.received, piece: PIECE, phase: state.phase, checked: 0, words: state.words });
  /** @param {string} path @param {RequestInit} init */
  function answer(path, init) {
    const at = Number(new URL(path, 'http://x').searchParams.get('at'));
    if (path.includes('/piece')) {
      const piece = /** @type {Uint8Array} */ (init.body);
      if (at > state.received) return refusal(409, 'out of order');
      if (!path.endsWith(sha(piece))) return refusal(422, 'changed');
      if (at === state.received) {
        state.bytes.set(piece, at);
        state.received += piece.length;
      }
    } else if (path.endsWith('/finish')) {
      state.sha256 = JSON.parse(String(init.body)).sha256;
      state.phase = 'checking';
    } else if (state.phase === 'checking') state.phase = state.sha256 === sha(state.bytes) ? 'done' : 'failed';
    return transfer();
  }
  let n = 0;
  globalThis.fetch = async (/** @type {any} */ path, /** @type {any} */ init) => {
    state.log.push(path.replace(/&sha256.*/, ''));
    const answered = () => answer(path, init);
    return way(n++, path, answered) ?? answered();
  };
  return state;
}

/** A page that notes what it shows, and never waits long. */
function page(over = {}) {
  const shown = /** @type {string[]} */ ([]);
  const note = (/** @type {string} */ doing, /** @type {unknown} */ _, words = '') => {
    const line = words ? `${doing}: ${words}` : doing;
    if (shown.at(-1) !== line) shown.push(line);
  };
  const now = async () => null;
  return { shown, page: { show: note, pause: now, code: now, goOn: now, stopped: () => false, ...over } };
}

/** @param {ReturnType<typeof server>} state @param {string[]} shown */
function arrived(state, shown) {
  assert.deepEqual(state.bytes, data);
  assert.equal(state.sha256, sha(data));
  assert.equal(shown.at(-1), 'done');
}

test('the fingerprint is that of the server', async () => {
  const long = Uint8Array.from({ length: 200_000 }, (_, k) => (k * 31) & 255);
  for (const bytes of [data, long, long.subarray(0, 65_536)]) {
    const hash = createHash('sha256').update(String(bytes.length)).update(bytes.subarray(0, 65_536)).update(bytes.subarray(Math.max(0, bytes.length - 65_536)));
    assert.equal(await fingerprint(new File([bytes], 'x')), hash.digest('hex').slice(0, 32));
  }
});

test('a video arrives piece by piece', async () => {
  const [state, { shown, page: own }] = [server(), page()];
  await sendVideo(video, 'm1', own);
  arrived(state, shown);
  assert.deepEqual(shown, ['reading', 'sending', 'checking', 'done']);
  assert.equal(state.log.filter((path) => path.includes('/piece')).length, 6);
});

test('every request is cut once before it arrives, and once after', async () => {
  for (const after of [false, true]) {
    const cut = new Set();
    const state = server((_, path, answered) => {
      if (cut.has(path)) return undefined;
      cut.add(path);
      if (after) answered(); // it arrived, but the phone never hears so
      throw new TypeError('network');
    });
    const { shown, page: own } = page();
    await sendVideo(video, 'm1', own);
    arrived(state, shown);
    assert.ok(shown.includes('no network'));
  }
});

test('a closed page goes on with the rest, and hashes the whole', async () => {
  const [state, { shown, page: own }] = [server(), page()];
  state.bytes.set(data.subarray(0, 3 * PIECE));
  state.received = 3 * PIECE;
  await sendVideo(video, 'm1', own);
  arrived(state, shown);
  assert.equal(state.log.filter((path) => path.includes('/piece')).length, 3);
});

test('a second phone that is faster, and a server that lost pieces', async () => {
  let others = 0;
  const state = server((_, path) => {
    if (path.includes('/piece?at=1000&') && others++ === 0) {
      state.bytes.set(data.subarray(PIECE, 3 * PIECE), PIECE); // the other phone's
      state.received = 3 * PIECE;
    }
    if (path.includes('/piece?at=4000&') && others++ === 1) state.received = 2 * PIECE;
    return undefined;
  });
  const { shown, page: own } = page();
  await sendVideo(video, 'm1', own);
  arrived(state, shown);
});

test('a slow phone hashes each byte once, though another sends what it is reading', async () => {
  for (const slow_ms of [0, 3, 15]) {
    /** The later a piece lies, the sooner it is read. */
    const reading = (/** @type {number} */ from, /** @type {number} */ to) => async () => {
      await new Promise((done) => setTimeout(done, from === PIECE ? slow_ms : 1));
      return data.slice(from, to).buffer;
    };
    const slow = { name: 'x', size: data.length, slice: (/** @type {number} */ from, /** @type {number} */ to) => ({ arrayBuffer: reading(from, to) }) };
    const state = server((_, path) => {
      if (path.includes('/piece?at=0&')) {
        state.bytes.set(data.subarray(0, 3 * PIECE));
        state.received = 3 * PIECE;
      }
      return undefined;
    });
    const { shown, page: own } = page();
    await sendVideo(/** @type {any} */ (slow), 'm1', own);
    arrived(state, shown);
  }
});

test('a session that ends asks for the code; a full disk waits for the coach', async () => {
  const asked = { code: 0, goOn: 0 };
  const count = (/** @type {'code' | 'goOn'} */ name) => async () => ++asked[name];
  const state = server((n) => (n === 0 || n === 3 ? refusal(401, 'session') : n === 6 ? refusal(507, 'disk full') : undefined));
  const { shown, page: own } = page({ code: count('code'), goOn: count('goOn') });
  await sendVideo(video, 'm1', own);
  arrived(state, shown);
  assert.deepEqual(asked, { code: 2, goOn: 1 });
  assert.ok(shown.includes('space: disk full'));
});

test('a busy server is asked again, a broken one not for ever', async () => {
  const busy = server((n) => (n > 0 && n % 3 === 0 ? refusal(429, 'busy') : undefined));
  const first = page();
  await sendVideo(video, 'm1', first.page);
  arrived(busy, first.shown);
  const broken = server((n) => (n > 2 ? refusal(500, 'an error of its own') : undefined));
  const second = page();
  assert.equal(await sendVideo(video, 'm1', second.page), null);
  assert.equal(second.shown.at(-1), 'failed: an error of its own');
  assert.ok(broken.log.length < 20);
});

test('what is refused is said, and nothing more is asked', async () => {
  for (const [at, status, words] of /** @type {[number, number, string][]} */ ([
    [0, 409, 'already in this match'],
    [0, 507, 'no space'],
    [0, 422, 'empty'],
    [2, 403, 'consent'],
    [3, 404, 'no longer being received'],
  ])) {
    const state = server((n) => (n === at ? refusal(status, words) : undefined));
    const { shown, page: own } = page();
    assert.equal(await sendVideo(video, 'm1', own), null);
    assert.equal(shown.at(-1), `failed: ${words}`);
    assert.equal(state.log.length, at + 1);
  }
});

test('a video that the computer found not to be as sent', async () => {
  const { shown, page: own } = page();
  const ends = server((_, path) => {
    if (path.endsWith('/finish')) {
      ends.phase = 'failed';
      ends.words = 'its hash differs';
      return json({ id: 't1', name: 'x', size: data.length, received: 0, piece: PIECE, phase: 'failed', checked: 0, words: ends.words });
    }
    return undefined;
  });
  await sendVideo(video, 'm1', own);
  assert.equal(shown.at(-1), 'failed: its hash differs');
});

test('a video that the phone no longer gives is said', async () => {
  server();
  const gone = { name: 'x', size: data.length, slice: () => ({ arrayBuffer: async () => Promise.reject(new DOMException('gone', 'NotReadableError')) }) };
  const { shown, page: own } = page();
  assert.equal(await sendVideo(/** @type {any} */ (gone), 'm1', own), null);
  assert.match(shown.at(-1) ?? '', /^failed: The phone no longer gives access/);
});

test('stopped, nothing more is sent', async () => {
  let stopped = false;
  const state = server((n) => {
    stopped = n === 3;
    return undefined;
  });
  const { shown, page: own } = page({ stopped: () => stopped });
  await sendVideo(video, 'm1', own);
  assert.equal(shown.at(-1), 'stopped');
  assert.equal(state.log.length, 4);
});
