// @ts-check
/* Dark or light screen: as the system is set until the coach chooses; shown at once, kept by the server. */

import { ask } from '../server/json-requests.js';

/** @returns {'light' | 'dim'} the theme now shown */
export function toggleTheme() {
  const page = document.documentElement;
  const link = /** @type {HTMLLinkElement} */ (document.querySelector('#dark-tokens'));
  const theme = matchMedia(link.media).matches ? 'light' : 'dim';
  page.dataset.theme = theme;
  link.media = theme === 'dim' ? 'all' : 'not all';
  ask('/api/settings/room', { body: { room: theme } }).catch(() => {});
  return theme;
}
