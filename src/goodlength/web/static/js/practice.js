// @ts-check
/* The log on court: hits and misses of one set, sent through the outbox, so that a dropped network costs nothing. */

import { ask, newId } from './api.js';
import { Outbox } from './outbox.js';

const main = /** @type {HTMLElement} */ (document.getElementById('main'));
const player = main.dataset.player ?? '';
const drill = /** @type {HTMLSelectElement} */ (document.getElementById('f-drill'));

/** @param {string} id @returns {HTMLElement} */
const at = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

/** @type {boolean[]} the set in hand: true for a hit */
let tries = restored();

const outbox = new Outbox({
  name: `practice:${player}`,
  send: (sets) => ask(`/api/practice/${encodeURIComponent(player)}/sets`, { body: { sets } }),
  onState: ({ waiting, connected, why }) => {
    at('state').textContent =
      waiting === 0
        ? 'Everything is stored.'
        : `${waiting} ${waiting === 1 ? 'set waits' : 'sets wait'} for the ${connected ? 'server' : 'connection'}. ${why}`;
  },
  onAnswer: (answer) => {
    at('told').textContent = answer.words[drill.value] ?? '';
  },
  onRefused: (_, refused) => {
    at('told').textContent = refused.words;
  },
});

/** The set in hand survives a reload; what was sent lies in the outbox. @returns {boolean[]} */
function restored() {
  try {
    const kept = JSON.parse(sessionStorage.getItem(`set:${player}`) ?? '[]');
    return Array.isArray(kept) ? kept.map(Boolean) : [];
  } catch {
    return [];
  }
}

function show() {
  at('hits').textContent = String(tries.filter(Boolean).length);
  at('attempts').textContent = String(tries.length);
  /** @type {HTMLButtonElement} */ (at('done')).disabled = tries.length === 0;
  /** @type {HTMLButtonElement} */ (at('back')).disabled = tries.length === 0;
  const counts = document.querySelector(`[data-counts="${CSS.escape(drill.value)}"]`);
  at('counts').textContent = counts?.textContent ?? '';
  try {
    sessionStorage.setItem(`set:${player}`, JSON.stringify(tries));
  } catch {
    // a browser that keeps nothing still logs: only a reload would lose the set in hand
  }
}

/** @param {boolean} hit */
function one(hit) {
  tries.push(hit);
  show();
}

function done() {
  const order = /** @type {HTMLInputElement | null} */ (document.querySelector('input[name="order"]:checked'));
  outbox.add([
    {
      id: newId(),
      drill: drill.value,
      hits: tries.filter(Boolean).length,
      attempts: tries.length,
      order: order?.value ?? 'blocked',
      on: main.dataset.today,
    },
  ]);
  tries = [];
  show();
}

at('hit').addEventListener('click', () => one(true));
at('miss').addEventListener('click', () => one(false));
at('back').addEventListener('click', () => {
  tries.pop();
  show();
});
at('done').addEventListener('click', done);
drill.addEventListener('change', show);
show();
void outbox.open();
