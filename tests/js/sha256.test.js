/* The hash worked out on the phone: the published examples, and another implementation on odd lengths. */

import assert from 'node:assert/strict';
import { createHash } from 'node:crypto';
import test from 'node:test';

import { Sha256, lastBlocks, sha256 } from '../../src/goodlength/web/static/js/lib/server/sha256.js';

const text = (/** @type {string} */ words) => new TextEncoder().encode(words);
const other = (/** @type {Uint8Array} */ bytes) => createHash('sha256').update(bytes).digest('hex');

/** Bytes that look random and are the same each time. @param {number} count */
function someBytes(count) {
  const bytes = new Uint8Array(count);
  for (let k = 0, x = 1; k < count; k++) {
    x = (Math.imul(x, 1103515245) + 12345) >>> 0;
    bytes[k] = x >>> 16;
  }
  return bytes;
}

// source: NIST, example values of FIPS 180 (SHA-256): one block, two blocks; the standard's million letters
const PUBLISHED = [
  ['abc', 'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad'],
  ['abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq', '248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1'],
  ['a'.repeat(1_000_000), 'cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0'],
  ['', 'e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855'],
];

for (const [words, hash] of PUBLISHED) {
  test(`published: ${words.length} letters`, () => {
    assert.equal(other(text(words)), hash); // the value as quoted here is right
    assert.equal(sha256(text(words)), hash);
  });
}

test('every length around one and two blocks', () => {
  for (let length = 0; length <= 200; length++) {
    const bytes = someBytes(length);
    assert.equal(sha256(bytes), other(bytes), `${length} bytes`);
  }
});

test('parts of any length give the hash of the whole', () => {
  const bytes = someBytes(300_000);
  for (const step of [1, 63, 64, 65, 1000, 65_536]) {
    const hash = new Sha256();
    const end = step === 1 ? 500 : bytes.length;
    for (let at = 0; at < end; at += step) hash.update(bytes.subarray(at, Math.min(at + step, end)));
    assert.equal(hash.hex(), other(bytes.subarray(0, end)), `parts of ${step}`);
  }
});

test('a hash can be read in between and goes on', () => {
  const bytes = someBytes(10_001);
  const hash = new Sha256();
  hash.update(bytes.subarray(0, 100));
  assert.equal(hash.hex(), other(bytes.subarray(0, 100)));
  hash.update(bytes.subarray(100));
  assert.equal(hash.hex(), other(bytes));
  assert.equal(hash.hex(), other(bytes));
});

test('the length of a video over 512 MB takes more than 32 bits', () => {
  for (const count of [0, 1, 2 ** 29 - 1, 2 ** 29, 2 ** 29 + 7, 1_073_741_824 + 12_345, 100_000_000_000, Number.MAX_SAFE_INTEGER]) {
    const last = lastBlocks(new Uint8Array(count % 64), count);
    const bits = new DataView(last.buffer).getBigUint64(last.length - 8);
    assert.equal(bits, BigInt(count) * 8n, `${count} bytes`);
    assert.equal(last.length % 64, 0);
    assert.equal(last[count % 64], 0x80);
  }
});
