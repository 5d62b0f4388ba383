// @ts-check
/* Settings are saved as soon as they are changed; a back-up is restored, and another library opened in place. */

import { ask, failureWords } from '../lib/server/json-requests.js';
import { need } from '../lib/page/dom.js';
import { adoptUndo } from '../lib/page/undo-line.js';

const saved = need('#saved');

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll('form[action="/settings"], form[action="/settings/kinds"]'))) {
  const button = /** @type {HTMLElement | null} */ (form.querySelector('.acts-row'));
  if (button) button.hidden = true; // nothing is left to press
  form.addEventListener('change', () => void save(form));
}

/** @param {HTMLFormElement} form */
async function save(form) {
  const sent = /** @type {[string, string][]} */ ([...new FormData(form)].filter(([, value]) => typeof value === 'string'));
  try {
    const answer = await fetch(form.action, { method: 'POST', body: new URLSearchParams(sent) });
    const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
    saved.textContent = answer.ok ? 'Saved.' : (page.querySelector('.message')?.textContent ?? 'Not saved.').trim();
    if (!answer.ok) return;
    if (sent.some(([name]) => name === 'room')) location.assign(answer.url); // with its line with Undo
    else adoptUndo(page);
    if (form.matches('[action="/settings/kinds"]')) adoptRows(form, page);
  } catch {
    saved.textContent = 'goodlength does not answer. The change is not saved.';
  }
}

/**
 * Show the kinds as they are now: keys follow what is in use, and a new kind got a row of its own.
 * @param {HTMLFormElement} form @param {Document} page
 */
function adoptRows(form, page) {
  const [rows, now] = [form.querySelector('tbody'), page.querySelector('form[action="/settings/kinds"] tbody')];
  if (!rows || !now) return;
  const fields = () => /** @type {HTMLElement[]} */ ([...rows.querySelectorAll('input:not([type="hidden"])')]);
  const at = fields().indexOf(/** @type {HTMLElement} */ (document.activeElement));
  rows.replaceChildren(...now.children);
  if (at >= 0) fields()[at]?.focus();
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
    const answer = await fetch('/api/settings/restore/upload', { method: 'POST', body: file, headers: { 'content-type': 'application/octet-stream' } });
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
