// @ts-check
/* The log on court: attempts of one set, sent through the outbox, so that a dropped network costs nothing. */

import { ask, libraryOfPage, newId } from '../../lib/server/json-requests.js';
import { Outbox } from '../../lib/server/offline-outbox.js';

/** @typedef {[number, number]} Place  metres: across from the left wall; up, or from the front wall */
/** @typedef {{hit: boolean, place: Place | null}} Try */

const main = /** @type {HTMLElement} */ (document.getElementById('main'));
const player = main.dataset.player ?? '';
const drill = /** @type {HTMLSelectElement} */ (document.getElementById('f-drill'));
const day = /** @type {HTMLInputElement} */ (document.getElementById('f-on'));
const SVG = 'http://www.w3.org/2000/svg';

/** @param {string} id @returns {HTMLElement} */
const at = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

/** @type {Try[]} the set in hand */
let tries = restored();
/** @type {Place | null} touched, and not yet called hit or miss */
let touched = null;
/** @type {Map<string, Place>} the aim of each drill, when one was touched */
const aims = new Map();
let aiming = false;
/** whether the practice type was chosen by the drill and not by hand */
let orderProposed = false;

/** @typedef {import('../../lib/server/message-types.js').SetsStored} SetsStored */
/** @type {Outbox<import('../../lib/server/message-types.js').SetIn, SetsStored>} */
const outbox = new Outbox({
  name: `practice:${player}`,
  send: async (sets) => /** @type {SetsStored} */ (await ask(`/api/practice/${encodeURIComponent(player)}/sets`, { body: { sets } })),
  onState: ({ waiting, connected, why }) => {
    at('state').textContent =
      waiting === 0
        ? 'All saved.'
        : `${waiting} ${waiting === 1 ? 'set' : 'sets'} waiting ${connected ? 'to be saved' : 'for the connection'}. ${why}`;
    document.documentElement.dataset.waiting = String(waiting);
  },
  onAnswer: (answer) => {
    at('logged-words').textContent = answer.words[drill.value] ?? '';
  },
  onRefused: (_, refused) => {
    at('logged-words').textContent = refused.words;
  },
});

/** The set in hand survives a reload; what was sent lies in the outbox. @returns {Try[]} */
function restored() {
  try {
    const stored = JSON.parse(sessionStorage.getItem(`set:${libraryOfPage()}:${player}`) ?? '[]');
    return Array.isArray(stored) ? stored.map((attempt) => ({ hit: Boolean(attempt.hit), place: attempt.place ?? null })) : [];
  } catch {
    return [];
  }
}

/** @returns {HTMLElement | null} what the page knows of the drill chosen */
const chosen = () => document.querySelector(`[data-counts="${CSS.escape(drill.value)}"]`);

/** @returns {Place | null} */
function aim() {
  const preset = chosen()?.dataset.aim?.split(',').map(Number);
  return aims.get(drill.value) ?? (preset ? [preset[0], preset[1]] : null);
}

function show() {
  at('hits').textContent = String(tries.filter((attempt) => attempt.hit).length);
  at('attempts').textContent = String(tries.length);
  /** @type {HTMLButtonElement} */ (at('done')).disabled = tries.length === 0;
  /** @type {HTMLButtonElement} */ (at('back')).disabled = tries.length === 0;
  drill.disabled = tries.length > 0; // a set belongs to one drill
  at('counts').textContent = chosen()?.textContent ?? '';
  showMarks();
  try {
    sessionStorage.setItem(`set:${libraryOfPage()}:${player}`, JSON.stringify(tries));
    sessionStorage.setItem(`drill:${libraryOfPage()}:${player}`, drill.value);
  } catch {
    // a browser that keeps nothing still logs: only a reload would lose the set in hand
  }
}

function showMarks() {
  const surface = chosen()?.dataset.surface;
  at('mark-places').hidden = !surface;
  at('aim').textContent = aiming ? 'Now show it on the drawing' : 'Set the target';
  at('aim').setAttribute('aria-pressed', String(aiming));
  at('aim-words').textContent = aim() ? 'The cross is the target.' : 'No target set yet, so distances cannot be measured.';
  for (const board of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll('.surface'))) {
    board.hidden = board.dataset.on !== surface;
    board.querySelectorAll('.mark').forEach((old) => old.remove());
    if (board.hidden) continue;
    for (const attempt of tries) if (attempt.place) dot(board, attempt.place, 'mark a-dot', 9);
    if (touched) dot(board, touched, 'mark touched', 11);
    const target = aim();
    if (target) cross(board, target);
  }
}

/** @param {HTMLElement} board @param {Place} place @returns {Place} in units of the drawing */
function onBoard(board, place) {
  const px = Number(board.dataset.px);
  const top = board.dataset.top;
  return [2 + place[0] * px, 2 + (top === undefined ? place[1] : Number(top) - place[1]) * px];
}

/** @param {HTMLElement} board @param {Place} place @param {string} name @param {number} radius */
function dot(board, place, name, radius) {
  const made = document.createElementNS(SVG, 'circle');
  const [cx, cy] = onBoard(board, place);
  made.setAttribute('class', name);
  for (const [key, value] of Object.entries({ cx, cy, r: radius })) made.setAttribute(key, String(value));
  board.querySelector('svg')?.append(made);
}

/** @param {HTMLElement} board @param {Place} place */
function cross(board, place) {
  const made = document.createElementNS(SVG, 'path');
  const [x, y] = onBoard(board, place);
  made.setAttribute('class', 'mark cross');
  made.setAttribute('d', `M${x - 16} ${y}h32M${x} ${y - 16}v32`);
  board.querySelector('svg')?.append(made);
}

/** A touch on the drawing, in metres. @param {HTMLElement} board @param {PointerEvent | MouseEvent} event */
function touch(board, event) {
  const svg = /** @type {SVGSVGElement} */ (board.querySelector('svg'));
  const frame = svg.getBoundingClientRect();
  const unit = svg.viewBox.baseVal.width / frame.width;
  const px = Number(board.dataset.px);
  const u = ((event.clientX - frame.left) * unit - 2) / px;
  const v = ((event.clientY - frame.top) * unit - 2) / px;
  const top = board.dataset.top;
  put([u, top === undefined ? v : Number(top) - v], board);
  aiming = false;
  showMarks();
}

/** How far a drawing reaches, metres. @param {HTMLElement} board @returns {Place} */
function reachOf(board) {
  const { width, height } = /** @type {SVGSVGElement} */ (board.querySelector('svg')).viewBox.baseVal;
  const px = Number(board.dataset.px);
  return [(width - 4) / px, board.dataset.top === undefined ? (height - 4) / px : Number(board.dataset.top)];
}

/** Set the target or the ball. @param {Place} place metres @param {HTMLElement} board */
function put(place, board) {
  const reach = reachOf(board);
  /** @type {Place} */
  const inside = [round(Math.min(Math.max(place[0], 0), reach[0])), round(Math.min(Math.max(place[1], 0), reach[1]))];
  if (aiming) aims.set(drill.value, inside);
  else touched = inside;
}

/** By keys: arrows move the target or the ball, Enter ends the target. @param {HTMLElement} board @param {KeyboardEvent} event */
function press(board, event) {
  const way = /** @type {Record<string, Place>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] })[event.key];
  if (way) {
    const [wide, high] = reachOf(board);
    const [x, y] = (aiming ? aim() : touched) ?? aim() ?? [wide / 2, high / 2];
    const step = event.shiftKey ? 0.01 : 0.1;
    const up = board.dataset.top === undefined ? -1 : 1; // the floor is seen from above, its front wall at the top
    put([x + way[0] * step + 1e-6, y + way[1] * step * up + 1e-6], board);
  } else if (event.key === 'Enter' && aiming) aiming = false;
  else return;
  event.preventDefault();
  showMarks();
}

/** @param {number} metres */
const round = (metres) => Math.floor(metres * 100) / 100;

/** @param {boolean} hit */
function addAttempt(hit) {
  tries.push({ hit, place: touched });
  touched = null;
  show();
}

function done() {
  const order = /** @type {HTMLInputElement | null} */ (document.querySelector('input[name="order"]:checked'));
  const places = tries.flatMap((attempt) => (attempt.place ? [attempt.place] : []));
  outbox.add([
    {
      id: newId(),
      drill: drill.value,
      hits: tries.filter((attempt) => attempt.hit).length,
      attempts: tries.length,
      order: order?.value ?? 'blocked',
      on: day.value,
      ...(places.length > 0 && { places, aim: aim() }),
    },
  ]);
  tries = [];
  show();
}

/** A drill that draws its shots is random practice: its order is chosen with it, and unchosen after it. */
function proposeOrder() {
  const order = chosen()?.dataset.order ?? 'blocked';
  const now = /** @type {HTMLInputElement | null} */ (document.querySelector('input[name="order"]:checked'));
  if (order === 'mixed') orderProposed = true;
  else if (!orderProposed || now?.value !== 'mixed') return;
  else orderProposed = false;
  const wanted = /** @type {HTMLInputElement | null} */ (document.querySelector(`input[name="order"][value="${order}"]`));
  if (wanted) wanted.checked = true;
}

at('hit').addEventListener('click', () => addAttempt(true));
at('miss').addEventListener('click', () => addAttempt(false));
at('back').addEventListener('click', () => {
  tries.pop();
  show();
});
at('done').addEventListener('click', done);
at('aim').addEventListener('click', () => {
  aiming = !aiming;
  showMarks();
});
for (const board of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll('.surface'))) {
  board.addEventListener('click', (event) => touch(board, event));
  board.addEventListener('keydown', (event) => press(board, event));
}
drill.addEventListener('change', () => {
  touched = null;
  proposeOrder();
  show();
});
const before = sessionStorage.getItem(`drill:${libraryOfPage()}:${player}`);
if (before && tries.length > 0 && [...drill.options].some((option) => option.value === before)) drill.value = before;
proposeOrder();
show();
void outbox.open().then(() => {
  document.documentElement.dataset.ready = 'practice';
});
