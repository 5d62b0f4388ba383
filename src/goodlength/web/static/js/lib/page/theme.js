// @ts-check
/* Dim or light room: shown at once, kept by the server for every page. */

import { ask } from '../server/json-requests.js';
import { need } from './dom.js';

/** @returns {'light' | 'dim'} the room now shown */
export function toggleTheme() {
  const dim = document.documentElement.dataset.theme !== 'dim';
  if (dim) document.documentElement.dataset.theme = 'dim';
  else delete document.documentElement.dataset.theme;
  need('#theme-button b').textContent = dim ? 'Dark' : 'Light';
  ask('/api/settings/room', { body: { room: dim ? 'dim' : 'light' } }).catch(() => {});
  return dim ? 'dim' : 'light';
}
