// @ts-check
/* Asking the server: one place that knows the JSON shape of an error. */

/** What the server said when it would not do something; `words` stand alone on the page. */
export class RefusedError extends Error {
  /** @param {number} status @param {string} kind @param {string} words */
  constructor(status, kind, words) {
    super(words);
    this.status = status;
    this.kind = kind;
    this.words = words;
  }
}

/** The server could not be reached: nothing is known about what was asked. */
export class NoConnectionError extends Error {}

/**
 * Which library the page was made for: another may be open by now, at the same address.
 * @returns {string}
 */
export function libraryOfPage() {
  return globalThis.document?.querySelector('meta[name="library"]')?.getAttribute('content') ?? '';
}

/** By which each request names its library: the server refuses one made for another. @returns {Record<string, string>} */
export const libraryHeader = () => ({ 'x-goodlength-library': libraryOfPage() });

/**
 * Ask the server and read its JSON answer; whoever asks says which type of types.d.ts it is.
 * @param {string} path
 * @param {{method?: string, body?: unknown, bytes?: Uint8Array<ArrayBuffer>, fields?: URLSearchParams, keepalive?: boolean, signal?: AbortSignal}} [how]
 * @returns {Promise<unknown>}
 */
export async function ask(path, how = {}) {
  /** @type {RequestInit} */
  const init = { method: how.method ?? (how.body === undefined && !how.bytes && !how.fields ? 'GET' : 'POST'), keepalive: how.keepalive, signal: how.signal, headers: libraryHeader() };
  if (how.body !== undefined) {
    init.body = JSON.stringify(how.body);
    init.headers = { ...libraryHeader(), 'content-type': 'application/json' };
  }
  if (how.fields) init.body = how.fields;
  if (how.bytes) {
    init.body = how.bytes;
    init.headers = { ...libraryHeader(), 'content-type': 'application/octet-stream' };
  }
  let answer;
  try {
    answer = await fetch(path, init);
  } catch {
    throw new NoConnectionError();
  }
  const content = /** @type {unknown} */ (await answer.json().catch(() => null));
  if (answer.ok) return content;
  const { error } = /** @type {{error?: {kind?: string, words?: string}}} */ (content ?? {});
  throw new RefusedError(
    answer.status,
    error?.kind ?? 'unknown',
    error?.words ?? `The server answered ${answer.status} and gave no reason. Reload the page.`,
  );
}

/**
 * What to say of an error of `ask`. An error of our own is none of these: it is thrown on.
 * @param {unknown} error @param {string} dropped  what to say where the server could not be reached
 * @returns {string}
 */
export function failureWords(error, dropped) {
  if (error instanceof RefusedError) return error.words;
  if (error instanceof NoConnectionError) return dropped;
  throw error;
}

/**
 * A name nobody else has made: 96 random bits as text. `crypto.randomUUID` is missing where the page is
 * opened over plain HTTP from another machine; `getRandomValues` is always there.
 * @returns {string}
 */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
}
