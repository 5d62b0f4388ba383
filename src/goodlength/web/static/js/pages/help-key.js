// @ts-check
/* The key ? on every page: its list of keys where it has one, else its guide. */

import { el } from '../lib/page/dom.js';

const TYPED = 'input, textarea, select, [contenteditable]';

document.addEventListener('keydown', (event) => {
  const target = /** @type {Element | null} */ (event.target);
  if (event.key !== '?' || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
  if (target?.closest(TYPED)) return;
  const list = /** @type {HTMLDialogElement | null} */ (document.querySelector('#help'));
  // A page whose player is not open yet does not answer the key itself, and its buttons would do nothing
  if (list) return void setTimeout(() => { if (!list.open) showIdle(list); });
  const link = /** @type {HTMLAnchorElement | null} */ (document.querySelector('#help-link'));
  if (link) location.assign(link.href);
});

/** Show a list of keys that mean something only once a clip plays. @param {HTMLDialogElement} list */
function showIdle(list) {
  const note = el('p', { class: 'small' }, 'These keys work once a clip plays on this page.');
  const buttons = /** @type {HTMLButtonElement[]} */ ([...list.querySelectorAll('[data-press]:not(:disabled)')]);
  list.querySelector('h2')?.after(note);
  for (const button of buttons) button.disabled = true;
  list.addEventListener('close', () => {
    note.remove();
    for (const button of buttons) button.disabled = false;
  }, { once: true });
  list.showModal();
}
