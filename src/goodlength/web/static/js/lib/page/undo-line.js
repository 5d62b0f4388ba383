// @ts-check
/* The line with Undo: one for all pages, said to screen readers, reached by the key Z. */

import { ask } from '../server/json-requests.js';
import { el } from './dom.js';

const TYPED = 'input, textarea, select, [contenteditable]';

/** The place on the page where the line stands. */
function place() {
  return document.querySelector('#undo-place');
}

/**
 * Say what was done, with the way back beside it; it takes the place of the line before.
 * @param {string} words @param {() => unknown} undo
 */
export function offerUndo(words, undo) {
  const press = () => {
    clearUndo();
    void undo();
  };
  const button = el('button', { type: 'button', class: 'link', 'aria-keyshortcuts': 'Z', onclick: press }, 'Undo ', el('kbd', {}, 'Z'));
  place()?.replaceChildren(el('div', { class: 'undo-line' }, el('p', {}, words), button));
}

/** Put something back from the bin. @param {string} item */
export const putBack = (item) => ask(`/bin/${encodeURIComponent(item)}/put-back`, { fields: new URLSearchParams({ to: location.pathname }) });

/** Take the line away. */
export function clearUndo() {
  place()?.replaceChildren();
}

/** Take over the line of a page that was fetched and is not shown. @param {Document} page */
export function adoptUndo(page) {
  const line = page.querySelector('#undo-place > *');
  place()?.replaceChildren(...(line ? [document.adoptNode(line)] : []));
  announceUndo();
}

/** Let Z, and the usual keys for Undo, press the line's button where nothing is typed. */
export function listenForUndo() {
  document.addEventListener('keydown', (event) => {
    const target = /** @type {Element | null} */ (event.target);
    if (event.key.toLowerCase() !== 'z' || event.altKey || event.shiftKey || event.defaultPrevented) return;
    if (target?.closest(TYPED) || document.querySelector('dialog[open]')) return;
    const button = /** @type {HTMLButtonElement | null | undefined} */ (place()?.querySelector('button'));
    if (!button) return;
    event.preventDefault();
    button.click();
  });
}

/** Put the line that came with the page in once more, as only what changes is said by a screen reader. */
export function announceUndo() {
  const line = place()?.firstElementChild;
  if (!line) return;
  line.remove();
  setTimeout(() => place()?.append(line), 150);
}
