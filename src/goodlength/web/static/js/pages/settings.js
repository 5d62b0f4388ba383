// @ts-check
/* Settings are saved as soon as they are changed; a back-up is restored, and another library opened in place. */

import { ask, failureWords, libraryHeader } from '../lib/server/json-requests.js';
import { need } from '../lib/page/dom.js';
import { newestRequest } from '../lib/server/newest-request.js';
import { adoptUndo } from '../lib/page/undo-line.js';

const saved = need('#saved');

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll('form[action="/settings"], form[action="/settings/kinds"]'))) {
  const button = /** @type {HTMLElement | null} */ (form.querySelector('.acts-row'));
  if (button) button.hidden = true; // nothing is left to press
  const save = oneSaveAtATime();
  form.addEventListener('change', () => save(form));
}

/** Return what saves a form; the next save sends what stands there once the page has heard of the one before. */
function oneSaveAtATime() {
  return newestRequest({
    ask: async (/** @type {HTMLFormElement} */ form) => {
      const sent = /** @type {[string, string][]} */ ([...new FormData(form)].filter(([, value]) => typeof value === 'string'));
      const typed = rowsOf(form).map(statesOf);
      const answer = await fetch(form.action, { method: 'POST', body: new URLSearchParams(sent), headers: libraryHeader() });
      return { sent, typed, answer, page: new DOMParser().parseFromString(await answer.text(), 'text/html') };
    },
    show: ({ sent, typed, answer, page }, newest, form) => {
      saved.textContent = answer.ok ? 'Saved.' : (page.querySelector('.message')?.textContent ?? 'Not saved.').trim();
      if (!answer.ok) return;
      if (!sent.some(([name]) => name === 'room' || name === 'page_language')) adoptUndo(page);
      else if (newest) location.assign(answer.url); // with its line with Undo
      if (form.matches('[action="/settings/kinds"]')) adoptRows(form, page, typed);
    },
    stale: () => {},
    fail: () => {
      saved.textContent = 'goodlength does not answer. The change is not saved.';
    },
  });
}

/** @param {ParentNode} part */
const rowsOf = (part) => /** @type {HTMLTableRowElement[]} */ ([...part.querySelectorAll('tbody tr')]);

/** @param {Element} row */
const fieldsOf = (row) => /** @type {HTMLInputElement[]} */ ([...row.querySelectorAll('input:not([type="hidden"])')]);

/** @param {HTMLInputElement} field */
const stateOf = (field) => (field.type === 'checkbox' ? String(field.checked) : field.value);

/** @param {Element} row */
const statesOf = (row) => fieldsOf(row).map(stateOf);

/**
 * Show the kinds as they are now: keys follow what is in use, and a new kind got a row of its own. The rows stay
 * in place with the cursor in them, and what was typed since they were sent stays as typed.
 * @param {HTMLFormElement} form @param {Document} page @param {string[][]} typed  each row's fields, as sent
 */
function adoptRows(form, page, typed) {
  const body = form.querySelector('tbody');
  const [rows, now] = [rowsOf(form), rowsOf(page.querySelector('form[action="/settings/kinds"]') ?? page)];
  const empty = rows[rows.length - 1];
  if (!body || !empty || now.length < rows.length) return;
  const last = now.length > rows.length && typed[rows.length - 1]?.[0].trim() ? rows.length - 1 : now.length - 1;
  rows.forEach((row, k) => takeRow(row, now[row === empty ? last : k], typed[k]));
  for (const [k, row] of now.entries()) if (k >= rows.length - 1 && k !== last) body.insertBefore(row, k < last ? empty : null);
}

/** @param {HTMLTableRowElement} row @param {HTMLTableRowElement} now @param {string[]} typed */
function takeRow(row, now, typed) {
  const [id, nowId] = [row, now].map((each) => /** @type {HTMLInputElement} */ (each.querySelector('input[type="hidden"]')));
  const news = fieldsOf(now);
  id.value = nowId.value;
  row.cells[0].textContent = now.cells[0].textContent;
  for (const [k, field] of fieldsOf(row).entries()) {
    const isTyped = stateOf(field) !== typed[k];
    field.defaultValue = news[k].defaultValue;
    if (field.type === 'checkbox') field.checked = isTyped ? field.checked : news[k].checked;
    else if (!isTyped && field.value !== news[k].value) field.value = news[k].value;
    for (const name of ['aria-label', 'placeholder']) field.setAttribute(name, news[k].getAttribute(name) ?? '');
  }
  const [words, nowWords] = [row, now].map((each) => each.cells[2].querySelector('.out-of-sight'));
  if (words && nowWords) words.textContent = nowWords.textContent;
  else row.cells[2].replaceChildren(...now.cells[2].childNodes);
}

const restore = document.querySelector('#restore');
restore?.addEventListener('submit', (event) => {
  event.preventDefault();
  const file = /** @type {HTMLInputElement} */ (need('#f-backup')).files?.[0];
  if (file) void bringBack(file);
});

/** @param {File} file */
async function bringBack(file) {
  const words = need('#restore-words');
  words.textContent = 'Checking the back-up.';
  try {
    const answer = await fetch('/api/settings/restore/upload', { method: 'POST', body: file, headers: { ...libraryHeader(), 'content-type': 'application/octet-stream' } });
    const content = /** @type {Partial<import('../lib/server/message-types.js').Restored> & {error?: {words?: string}}} */ (await answer.json());
    words.textContent = content.error?.words ?? content.words ?? 'Nothing was restored.';
    const opens = need('#open-restored');
    opens.hidden = !content.folder || !document.querySelector('#other-library');
    opens.onclick = () => void openLibrary({ folder: content.folder ?? '', make: false }, words);
  } catch (error) {
    words.textContent = error instanceof TypeError ? 'goodlength does not answer. Nothing was restored.' : failureWords(error, '');
  }
}

const other = document.querySelector('#other-library');
other?.addEventListener('submit', (event) => {
  event.preventDefault();
  const typed = new FormData(/** @type {HTMLFormElement} */ (other));
  void openLibrary({ folder: String(typed.get('folder')), make: typed.has('make') }, need('#library-words'));
});

/** @typedef {import('../lib/server/message-types.js').LibraryInUse} LibraryInUse */
const LONGEST_WAIT_MS = 60_000;

/**
 * Open another library: the server begins again with it, and the page goes to its matches.
 * @param {{folder: string, make: boolean}} wanted @param {HTMLElement} words
 */
async function openLibrary(wanted, words) {
  words.textContent = 'Opening the library.';
  try {
    const asked = /** @type {LibraryInUse} */ (await ask('/api/settings/library', { body: wanted }));
    const until = Date.now() + LONGEST_WAIT_MS;
    while (Date.now() < until) {
      await new Promise((resolve) => setTimeout(resolve, 300));
      const now = /** @type {LibraryInUse | null} */ (await ask('/api/settings/library').catch(() => null));
      if (!now || now.run === asked.run) continue;
      if (!now.fault) return location.assign('/matches');
      words.textContent = `${now.fault} The library before is open again.`;
      return;
    }
    words.textContent = 'goodlength does not answer. Start it again.';
  } catch (error) {
    words.textContent = failureWords(error, 'The library was not opened.');
  }
}
document.documentElement.dataset.ready = 'settings';
