// @ts-check
/* A player's page: the figures over the matches come after the page, since they take longer than the rest. */

import { ask } from '../lib/server/json-requests.js';
import { need } from '../lib/page/dom.js';

const home = /** @type {HTMLElement | null} */ (document.querySelector('#over-matches'));

async function fill() {
  if (!home) return;
  try {
    const answer = await fetch(home.dataset.from ?? '');
    const part = new DOMParser().parseFromString(await answer.text(), 'text/html').querySelector('#player-trend');
    if (part) home.replaceChildren(part);
  } catch (error) {
    if (!(error instanceof TypeError)) throw error; // no connection: the link stays
  }
}

async function results() {
  const rows = /** @type {HTMLElement[]} */ ([...document.querySelectorAll('[data-result]')]);
  if (rows.length === 0) return;
  const ids = rows.map((row) => encodeURIComponent(row.dataset.result ?? '')).join(',');
  const found = /** @type {import('../lib/server/message-types.js').MatchStates | null} */ (await ask(`/api/match-states?ids=${ids}`).catch(() => null));
  for (const state of found?.states ?? []) {
    const row = rows.find((candidate) => candidate.dataset.result === state.id);
    if (row) row.textContent = state.result;
  }
}

need('#main');
await Promise.all([fill(), results()]);
document.documentElement.dataset.ready = 'player';
