// @ts-check
/* The key ? on every page: its list of keys where it has one, else its guide. */

const TYPED = 'input, textarea, select, [contenteditable]';

document.addEventListener('keydown', (event) => {
  const target = /** @type {Element | null} */ (event.target);
  if (event.key !== '?' || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
  if (target?.closest(TYPED)) return;
  const list = /** @type {HTMLDialogElement | null} */ (document.querySelector('#help'));
  // A page whose player is not open yet does not answer the key itself
  if (list) return void setTimeout(() => { if (!list.open) list.showModal(); });
  const link = /** @type {HTMLAnchorElement | null} */ (document.querySelector('#help-link'));
  if (link) location.assign(link.href);
});
