// @ts-check
/* SHA-256 of bytes that come one after the other (FIPS 180-4, section 6.2).

   `crypto.subtle` is missing where the page is opened over plain HTTP from another machine, and it cannot take a
   file in parts, which a video that does not fit in memory needs. */

const BLOCK = 64;
const LENGTH_AT = 56; // where the length begins in the last block
// FIPS 180-4, section 4.2.2: fractions of the cube roots of the first 64 primes
const K = new Int32Array([
  0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5, 0xd807aa98, 0x12835b01, 0x243185be,
  0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174, 0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa,
  0x5cb0a9dc, 0x76f988da, 0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967, 0x27b70a85,
  0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85, 0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3,
  0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070, 0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f,
  0x682e6ff3, 0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2,
]);
// section 5.3.3: fractions of the square roots of the first 8 primes
const START = [0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a, 0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19];

/**
 * What ends a message: a single bit, zeros, and its length in bits (section 5.1.1).
 * @param {Uint8Array} rest  what is left after the last whole block @param {number} count  bytes of the message, any file's
 */
export function lastBlocks(rest, count) {
  const last = new Uint8Array(rest.length < LENGTH_AT ? BLOCK : 2 * BLOCK);
  last.set(rest);
  last[rest.length] = 0x80;
  const view = new DataView(last.buffer);
  view.setUint32(last.length - 8, Math.floor(count / 2 ** 29));
  view.setUint32(last.length - 4, (count % 2 ** 29) * 8);
  return last;
}

/** The hash of everything given to `update` so far. */
export class Sha256 {
  #state = new Int32Array(START);
  #words = new Int32Array(BLOCK);
  #rest = new Uint8Array(BLOCK);
  #restLength = 0; // bytes in `#rest`
  #count = 0; // bytes altogether

  /** @param {Uint8Array} bytes */
  update(bytes) {
    this.#count += bytes.length;
    let at = 0;
    if (this.#restLength > 0) {
      at = Math.min(BLOCK - this.#restLength, bytes.length);
      this.#rest.set(bytes.subarray(0, at), this.#restLength);
      this.#restLength += at;
      if (this.#restLength < BLOCK) return this;
      this.#add(this.#rest, 0);
      this.#restLength = 0;
    }
    for (; at + BLOCK <= bytes.length; at += BLOCK) this.#add(bytes, at);
    this.#rest.set(bytes.subarray(at));
    this.#restLength = bytes.length - at;
    return this;
  }

  /** The hash in hexadecimal digits; more may be added afterwards. */
  hex() {
    const last = lastBlocks(this.#rest.subarray(0, this.#restLength), this.#count);
    const before = this.#state.slice();
    for (let at = 0; at < last.length; at += BLOCK) this.#add(last, at);
    const digits = Array.from(this.#state, (word) => (word >>> 0).toString(16).padStart(8, '0')).join('');
    this.#state = before;
    return digits;
  }

  /** Section 6.2.2, one block. @param {Uint8Array} bytes @param {number} at */
  #add(bytes, at) {
    const words = this.#words;
    for (let t = 0; t < 16; t++, at += 4) words[t] = (bytes[at] << 24) | (bytes[at + 1] << 16) | (bytes[at + 2] << 8) | bytes[at + 3];
    for (let t = 16; t < 64; t++) {
      const x = words[t - 15];
      const y = words[t - 2];
      const s0 = ((x >>> 7) | (x << 25)) ^ ((x >>> 18) | (x << 14)) ^ (x >>> 3);
      const s1 = ((y >>> 17) | (y << 15)) ^ ((y >>> 19) | (y << 13)) ^ (y >>> 10);
      words[t] = words[t - 16] + s0 + words[t - 7] + s1;
    }
    const state = this.#state;
    let a = state[0];
    let b = state[1];
    let c = state[2];
    let d = state[3];
    let e = state[4];
    let f = state[5];
    let g = state[6];
    let h = state[7];
    for (let t = 0; t < 64; t++) {
      const s1 = ((e >>> 6) | (e << 26)) ^ ((e >>> 11) | (e << 21)) ^ ((e >>> 25) | (e << 7));
      const one = (h + s1 + ((e & f) ^ (~e & g)) + K[t] + words[t]) | 0;
      const s0 = ((a >>> 2) | (a << 30)) ^ ((a >>> 13) | (a << 19)) ^ ((a >>> 22) | (a << 10));
      const two = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      h = g;
      g = f;
      f = e;
      e = (d + one) | 0;
      d = c;
      c = b;
      b = a;
      a = (one + two) | 0;
    }
    state[0] += a;
    state[1] += b;
    state[2] += c;
    state[3] += d;
    state[4] += e;
    state[5] += f;
    state[6] += g;
    state[7] += h;
  }
}

/** The hash of bytes that are all there. @param {Uint8Array} bytes */
export function sha256(bytes) {
  return new Sha256().update(bytes).hex();
}
