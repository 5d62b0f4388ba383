// @ts-check
/* Sending a video in pieces. Whatever breaks on the way, the server says from which byte to go on.

   fingerprint ──> begin ──> piece, piece, … ──> hash of the whole ──> checked and added
                     └── no network, code, space ──> wait, ask how far it is, go on */

import { NoConnectionError, RefusedError, ask } from './json-requests.js';
import { Sha256, sha256 } from './sha256.js';

/** @typedef {import('./message-types.js').Transfer} Transfer */
/**
 * What the page does for a transfer.
 * @typedef {object} Page
 * @property {(doing: Doing, transfer: Transfer | null, words?: string) => void} show  what is being done, and how far it is
 * @property {(milliseconds: number) => Promise<unknown>} pause  ends early once the network is back
 * @property {() => Promise<unknown>} code  ends when the pass code was entered
 * @property {() => Promise<unknown>} goOn  ends when the coach wants to go on
 * @property {() => boolean} stopped  whether the coach stopped it
 */
/** @typedef {'reading' | 'sending' | 'no network' | 'code' | 'space' | 'checking' | 'done' | 'failed' | 'stopped'} Doing */
/** @typedef {{bytes: Uint8Array<ArrayBuffer>, hash: string}} Piece */
/** @typedef {Pick<File, 'name' | 'size' | 'slice'>} Video */

const EDGE_BYTES = 65536; // as in footage.media.video_probe
const READ_BYTES = 4 * 1024 * 1024;
const PIECE_MS = 120_000; // a piece that takes longer is sent again: the network is gone and nobody said so
const LONGEST_PAUSE_MS = 10_000;
const BUSY_MS = 10_000;
const MOST_TRIES = 8; // without a byte of progress
const GONE = 'The phone no longer gives access to this video. Choose it again; sending continues where it was.';

/**
 * A short name for a video's content, as the server works it out: its size with its first and last bytes.
 * @param {Video} video
 */
export async function fingerprint(video) {
  const hash = new Sha256().update(new TextEncoder().encode(String(video.size)));
  hash.update(await bytesOf(video, 0, EDGE_BYTES));
  hash.update(await bytesOf(video, Math.max(0, video.size - EDGE_BYTES), video.size));
  return hash.hex().slice(0, 32);
}

/**
 * Send a video to a match until it is there, or cannot be.
 * @param {Video} video @param {string} match  its id, for an address @param {Page} page
 * @returns {Promise<Transfer | null>}
 */
export async function sendVideo(video, match, page) {
  const sending = new Sending(video, page);
  try {
    return await sending.run(match);
  } catch (problem) {
    if (problem instanceof Ended) return null;
    throw problem;
  }
}

/** The transfer came to an end that is shown already. */
class Ended extends Error {}

class Sending {
  #hash = new Sha256();
  #hashed = 0;
  #tries = 0;
  #waits = 0;
  /** @type {{at: number, piece: Promise<Piece>} | null} */
  #ahead = null;
  #furthest = 0;

  /** @param {Video} video @param {Page} page */
  constructor(video, page) {
    this.video = video;
    this.page = page;
    /** @type {Transfer | null} */
    this.transfer = null;
  }

  /** @param {string} match */
  async run(match) {
    this.page.show('reading', null);
    const mark = await this.#read(() => fingerprint(this.video));
    const body = { name: this.video.name, size: this.video.size, fingerprint: mark };
    let next = () => ask(`/api/matches/${match}/transfers`, { body });
    for (;;) {
      const transfer = /** @type {Transfer | null} */ (await this.#asked(next));
      if (transfer) {
        this.transfer = transfer;
        if (transfer.phase === 'done') return this.#end('done');
        if (transfer.phase === 'failed') return this.#end('failed', transfer.words);
        next = await this.#next(transfer);
      } else if (this.transfer) {
        next = this.#state(this.transfer); // what became of the last request is not known
      }
    }
  }

  /** @param {Doing} doing @param {string} [words] */
  #end(doing, words) {
    this.page.show(doing, this.transfer, words);
    return this.transfer;
  }

  /** @param {Transfer} transfer */
  #state(transfer) {
    return () => ask(`/api/transfers/${transfer.id}`);
  }

  /**
   * What to ask next.
   * @param {Transfer} transfer
   */
  async #next(transfer) {
    if (transfer.received > this.#furthest) {
      this.#furthest = transfer.received;
      this.#tries = 0;
    }
    if (transfer.phase === 'checking') {
      this.page.show('checking', transfer);
      await this.page.pause(1000);
      return this.#state(transfer);
    }
    if (transfer.words) await this.#waitForSpace(transfer.words); // it was whole, and could not be added
    if (this.#hashed < transfer.received) await this.#readOn(transfer);
    if (transfer.received >= transfer.size) {
      const body = { sha256: this.#hash.hex() };
      return () => ask(`/api/transfers/${transfer.id}/finish`, { body });
    }
    this.page.show('sending', transfer);
    const at = transfer.received;
    const { bytes, hash } = await this.#read(() => (this.#ahead?.at === at ? this.#ahead.piece : this.#prepare(at, transfer)));
    const path = `/api/transfers/${transfer.id}/piece?at=${at}&sha256=${hash}`;
    return () => {
      const answer = ask(path, { bytes, signal: AbortSignal.timeout?.(PIECE_MS) });
      this.#prepareNext(at + bytes.length, transfer);
      return answer;
    };
  }

  /** Read and hash a piece. @param {number} at @param {Transfer} transfer @returns {Promise<Piece>} */
  async #prepare(at, transfer) {
    const bytes = await bytesOf(this.video, at, Math.min(at + transfer.piece, transfer.size));
    if (at === this.#hashed) this.#add(bytes);
    return { bytes, hash: sha256(bytes) };
  }

  /** Read and hash what probably comes next while a piece is on its way. @param {number} at @param {Transfer} transfer */
  #prepareNext(at, transfer) {
    if (this.#ahead?.at === at || at >= transfer.size) return;
    this.#ahead = { at, piece: this.#prepare(at, transfer) };
    this.#ahead.piece.catch(() => null); // said when it is needed
  }

  /** Read what has arrived already: its hash is part of the whole one. @param {Transfer} transfer */
  async #readOn(transfer) {
    while (this.#hashed < transfer.received) {
      if (this.page.stopped()) this.#stop();
      this.page.show('reading', transfer);
      const [from, to] = [this.#hashed, Math.min(this.#hashed + READ_BYTES, transfer.received)];
      const bytes = await this.#read(() => bytesOf(this.video, from, to));
      if (from === this.#hashed) this.#add(bytes); // else what was prepared covers it meanwhile
    }
  }

  /** @param {Uint8Array} bytes */
  #add(bytes) {
    this.#hash.update(bytes);
    this.#hashed += bytes.length;
  }

  /**
   * Read from the phone, which may refuse: the video was deleted, or the browser gave up its right to it.
   * @template T
   * @param {() => Promise<T>} reading
   */
  async #read(reading) {
    try {
      return await reading();
    } catch (problem) {
      if (!(problem instanceof DOMException)) throw problem;
      this.#end('failed', GONE);
      throw new Ended();
    }
  }

  /**
   * Ask the server; null where what came of it is not known, after a wait.
   * @param {() => Promise<unknown>} asking
   */
  async #asked(asking) {
    if (this.page.stopped()) this.#stop();
    try {
      const answer = await asking();
      this.#waits = 0;
      return answer;
    } catch (problem) {
      if (this.page.stopped()) this.#stop();
      if (problem instanceof NoConnectionError) await this.#waitForNetwork();
      else if (problem instanceof RefusedError) await this.#refused(problem);
      else throw problem;
      return null;
    }
  }

  async #waitForNetwork() {
    this.page.show('no network', this.transfer);
    await this.page.pause(Math.min(1000 * 2 ** Math.min(this.#waits++, 10), LONGEST_PAUSE_MS));
  }

  /** @param {string} words */
  async #waitForSpace(words) {
    this.page.show('space', this.transfer, words);
    await this.page.goOn();
    if (this.page.stopped()) this.#stop();
    this.#tries = 0;
  }

  /** @param {RefusedError} problem */
  async #refused(problem) {
    const { status, words } = problem;
    if (status === 401) {
      this.page.show('code', this.transfer);
      await this.page.code();
      return;
    }
    if (status === 507 && this.transfer) {
      await this.#waitForSpace(words);
      return;
    }
    const passing = status === 408 || status === 429 || status >= 500;
    const again = this.transfer !== null && (status === 409 || status === 422); // the state says from where
    if ((!passing && !again) || status === 507 || ++this.#tries > MOST_TRIES) {
      this.#end('failed', words);
      throw new Ended();
    }
    if (passing) await this.page.pause(BUSY_MS);
  }

  #stop() {
    this.#end('stopped');
    throw new Ended();
  }
}

/** @param {Video} video @param {number} from @param {number} to */
async function bytesOf(video, from, to) {
  return new Uint8Array(await video.slice(from, to).arrayBuffer());
}
