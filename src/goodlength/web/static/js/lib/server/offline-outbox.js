// @ts-check
/* Answers on their way to the server.

   What a coach says is written into the browser's own store, then sent in the order it was said. A batch that
   the server has stored leaves the outbox; one that could not be sent stays and is tried again. Every entry
   carries an id made here, so that one sent twice is stored once. Nothing in this file knows what an entry
   says: practice sends its attempts through the same door. The browser's store is one for all libraries, so each
   outbox is named by its library too. */

import { libraryOfPage, NoConnectionError, RefusedError } from './json-requests.js';

/**
 * @typedef {{id: string}} Identified  anything with an id made by `newId`
 * @typedef {{waiting: number, connected: boolean, why: string}} State  why: the server's words when it could not store
 */
/**
 * @template {Identified} Entry @template Answer
 * @typedef {{
 *   name: string,
 *   send: (entries: Entry[]) => Promise<Answer>,
 *   onState?: (state: State) => void,
 *   onAnswer?: (answer: Answer, sent: Entry[]) => void,
 *   onRefused?: (entries: Entry[], refused: RefusedError) => void,
 *   batch?: number,
 *   waitsMs?: number[],
 * }} Options
 */

// Not a word on the entries: a session ended, a device shut out for now, too many at once, or too slow
const NOT_NOW = new Set([401, 403, 408, 429]);
const WAITS_MS = [500, 1000, 2000, 4000, 8000];

/** @template {Identified} Entry @template Answer */
export class Outbox {
  /** @param {Options<Entry, Answer>} options `name` keeps outboxes apart: one for each match */
  constructor(options) {
    this.options = options;
    /** @type {Entry[]} said, not yet known to be stored by the server; oldest first */
    this.entries = [];
    this.connected = true;
    this.why = '';
    this.sending = false;
    this.batch = options.batch ?? 200;
    this.failures = 0;
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.timer = undefined;
    /** @type {EntryStore<Entry>} */
    this.store = new EntryStore(options.name, libraryOfPage());
    addEventListener('online', () => this.kick());
  }

  /** Bring back what an earlier page left unsent, and send it. @returns {Promise<Entry[]>} */
  async open() {
    const left = await this.store.all();
    const known = new Set(this.entries.map((entry) => entry.id));
    this.entries = [...left.filter((entry) => !known.has(entry.id)), ...this.entries];
    this.tell();
    void this.kick();
    return left;
  }

  /** Take entries to be sent after those already waiting. @param {Entry[]} entries */
  add(entries) {
    this.entries.push(...entries);
    void this.store.put(entries);
    this.tell();
    void this.kick();
  }

  /** Send what waits, one batch at a time, until nothing waits or the connection drops. */
  async kick() {
    if (this.sending) return;
    clearTimeout(this.timer);
    this.sending = true;
    try {
      while (this.entries.length > 0 && (await this.sendBatch()));
    } finally {
      this.sending = false;
      this.batch = this.options.batch ?? 200;
      this.tell();
    }
  }

  /** @returns {Promise<boolean>} whether the next batch may be tried at once */
  async sendBatch() {
    const batch = this.entries.slice(0, this.batch);
    try {
      const answer = await this.options.send(batch);
      this.connected = true;
      this.why = '';
      this.failures = 0;
      this.drop(batch);
      this.options.onAnswer?.(answer, batch);
      return true;
    } catch (error) {
      if (error instanceof RefusedError && error.status < 500 && !NOT_NOW.has(error.status)) return this.refused(batch, error);
      if (!(error instanceof NoConnectionError) && !(error instanceof RefusedError)) throw error;
      this.connected = false;
      this.why = error instanceof RefusedError ? error.words : '';
      const waits = this.options.waitsMs ?? WAITS_MS;
      const wait = waits[Math.min(this.failures++, waits.length - 1)];
      this.timer = setTimeout(() => this.kick(), wait);
      return false;
    }
  }

  /**
   * The server understood and said no. One entry of a batch must not hold up the others: they are sent one by
   * one, and the one refused is set aside in the browser's store.
   * @param {Entry[]} batch @param {RefusedError} error
   */
  async refused(batch, error) {
    if (batch.length > 1) {
      this.batch = 1;
      return true;
    }
    await this.store.setAside(batch);
    this.drop(batch);
    this.options.onRefused?.(batch, error);
    return true;
  }

  /** @param {Entry[]} batch */
  drop(batch) {
    const gone = new Set(batch.map((entry) => entry.id));
    this.entries = this.entries.filter((entry) => !gone.has(entry.id));
    void this.store.remove([...gone]);
    this.tell();
  }

  tell() {
    this.options.onState?.({ waiting: this.entries.length, connected: this.connected, why: this.why });
  }
}

/** The browser's own store (IndexedDB). Where a browser refuses it, entries live in memory only. @template {Identified} Entry */
class EntryStore {
  /** @param {string} name @param {string} library */
  constructor(name, library) {
    this.plainName = name;
    this.name = `${library}/${name}`;
    /** @type {Promise<IDBDatabase | null>} */
    this.db = openStore();
    /** @type {Promise<unknown>} writes happen in the order they were asked for */
    this.last = this.db;
  }

  /** @returns {Promise<Entry[]>} entries not yet stored by the server, oldest first */
  async all() {
    const db = await this.db;
    if (!db) return [];
    const store = db.transaction('entries').objectStore('entries');
    const rowsOf = (/** @type {string} */ name) => done(store.index('name').getAll(IDBKeyRange.bound([name, 0], [name, Infinity])));
    const [rows, unnamed] = await Promise.all([rowsOf(this.name), rowsOf(this.plainName)]);
    const entries = [...unnamed, ...rows].filter((row) => !row.aside).map((row) => row.entry);
    if (unnamed.length > 0) void this.adopt(unnamed);
    return entries;
  }

  /**
   * Take over what an earlier version left without the name of a library; it named none, so this page's is the best known.
   * @param {{key: string, entry: Entry}[]} rows
   */
  adopt(rows) {
    return this.write((store) => {
      for (const row of rows) {
        store.put({ ...row, key: this.name + row.key.slice(this.plainName.length), name: this.name });
        store.delete(row.key);
      }
    });
  }

  /** @param {Entry[]} entries */
  put(entries) {
    return this.write((store) => {
      for (const entry of entries) store.put({ key: `${this.name}/${entry.id}`, name: this.name, seq: nextSeq(), entry });
    });
  }

  /** @param {string[]} ids */
  remove(ids) {
    return this.write((store) => ids.forEach((id) => store.delete(`${this.name}/${id}`)));
  }

  /** @param {Entry[]} entries */
  setAside(entries) {
    return this.write((store) => {
      for (const entry of entries) {
        store.put({ key: `${this.name}/aside/${entry.id}`, name: this.name, seq: nextSeq(), entry, aside: true });
      }
    });
  }

  /** @param {(store: IDBObjectStore) => void} work */
  write(work) {
    this.last = this.last.then(async () => {
      const db = await this.db;
      if (!db) return;
      const doing = db.transaction('entries', 'readwrite');
      work(doing.objectStore('entries'));
      await new Promise((resolve) => {
        doing.oncomplete = resolve;
        doing.onabort = resolve;
      });
    });
    return this.last;
  }
}

let lastSeq = 0;
/** Rows come back in the order of this number, across reloads too. */
function nextSeq() {
  lastSeq = Math.max(lastSeq + 1, Date.now() * 1000);
  return lastSeq;
}

/** @returns {Promise<IDBDatabase | null>} */
function openStore() {
  return new Promise((resolve) => {
    try {
      const asked = indexedDB.open('goodlength', 1);
      asked.onupgradeneeded = () => {
        const store = asked.result.createObjectStore('entries', { keyPath: 'key' });
        store.createIndex('name', ['name', 'seq']);
      };
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => resolve(null);
    } catch {
      resolve(null);
    }
  });
}

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
function done(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}
