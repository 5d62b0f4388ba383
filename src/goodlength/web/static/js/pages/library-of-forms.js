// @ts-check
/* On every page: a form that changes something names the library that the page was made for. */

import { libraryOfPage } from '../lib/server/json-requests.js';

// On the window, after the scripts of the page: what they send themselves is not the browser's to send
window.addEventListener('submit', (event) => {
  if (event.defaultPrevented) return;
  const form = /** @type {HTMLFormElement} */ (event.target);
  const button = event.submitter;
  const method = button?.getAttribute('formmethod') ?? form.getAttribute('method') ?? 'get';
  if (method.toLowerCase() !== 'post') return;
  const [element, name] = button?.hasAttribute('formaction') ? [button, 'formaction'] : [form, 'action'];
  const address = new URL(element.getAttribute(name) ?? '', location.href);
  address.searchParams.set('library', libraryOfPage());
  element.setAttribute(name, address.pathname + address.search + address.hash);
});
