// @ts-check
/* Settings are saved as soon as they are changed; a back-up is restored with its progress. */

import { failureWords } from '../lib/server/json-requests.js';
import { need } from '../lib/page/dom.js';
import { adoptUndo } from '../lib/page/undo-line.js';

const saved = need('#saved');

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll('form[action="/settings"]'))) {
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
  } catch {
    saved.textContent = 'goodlength does not answer. The change is not saved.';
  }
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
  } catch (error) {
    words.textContent = error instanceof TypeError ? 'goodlength does not answer. Nothing was restored.' : failureWords(error, '');
  }
}
document.documentElement.dataset.ready = 'settings';
