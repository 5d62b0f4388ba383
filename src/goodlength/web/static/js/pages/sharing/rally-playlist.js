// @ts-check
/* The Show page: rallies with pictures, what of them is shown, and highlights in an order of the coach's own. */

import { ask } from '../../lib/server/json-requests.js';
import { el, need } from '../../lib/page/dom.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { makeSortable } from '../../lib/page/sortable-list.js';
import { count } from '../../lib/page/time-and-score-format.js';
import { choicesOf, fits } from '../../lib/player/clip-filter.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { setThumbnails } from '../../lib/player/thumbnails.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';

const TWO_SECONDS = 2_000_000;
const FILTERS = [
  ['game', 'Game'],
  ['server', 'Server'],
  ['winner', 'Won by'],
  ['kind', 'Serve'],
  ['left', 'Return'],
];
const matchId = need('#main').dataset.match ?? '';
const { parts } = /** @type {import('../../lib/server/message-types.js').Files} */ (await ask(`/api/matches/${encodeURIComponent(matchId)}/films`));
const rows = /** @type {HTMLElement[]} */ ([...document.querySelectorAll('#rallies tr')]);
const player = new VideoPlayer(need('#frame'), parts, show);
const controls = new PlayerControls(player, { match: matchId, rally: () => rows.map(spanOf).find(isShown) ?? null, tell: (words) => say(words) });
controls.previews.onFound = () => setThumbnails(document, controls.previews, player);
/** @type {Record<string, string>} */
const wanted = {};
/** @type {string[]} keys of the rallies of the reel, in order */
let reel = [];

/** @param {HTMLElement} row */
function spanOf(row) {
  const { start, end } = need('[data-start]', row).dataset;
  return { start_us: Number(start), end_us: Number(end) };
}

/** @param {{start_us: number, end_us: number}} span */
function isShown(span) {
  return span.start_us <= player.nowUs && player.nowUs < span.end_us;
}

function show() {
  for (const row of rows) row.classList.toggle('playing', isShown(spanOf(row)));
  const trouble = need('#trouble');
  trouble.hidden = player.problems.length === 0;
  if (!trouble.hidden) trouble.textContent = 'This browser cannot play the video. Make a copy on the Footage page.';
}

/** @param {string} words */
function say(words) {
  need('#clip-count').textContent = words;
}

/** Play rallies one after the other. @param {{start_us: number, end_us: number}[]} spans */
function play(spans) {
  if (spans.length === 0) return;
  player.loop = null;
  player.ralliesOnly = false;
  player.spans = spans.toSorted((a, b) => a.start_us - b.start_us);
  player.seek(player.spans[0].start_us, true);
  player.ralliesOnly = true;
}

// ---- what is shown

/** @param {HTMLElement} row @returns {Record<string, string>} */
const answersOf = (row) => Object.fromEntries([...FILTERS.map(([name]) => name), 'flagged'].map((name) => [name, row.dataset[name] ?? '']));

function filter() {
  for (const row of rows) row.hidden = !fits(answersOf(row), wanted);
  const left = rows.filter((row) => !row.hidden);
  say(left.length === rows.length ? count(rows.length, 'rally', 'rallies') : `${left.length} of ${count(rows.length, 'rally', 'rallies')}`);
  need('#play-all').textContent = left.length === 1 ? 'Play the rally' : `Play ${left.length === rows.length ? 'all ' : ''}${count(left.length, 'rally', 'rallies')} in a row`;
  /** @type {HTMLButtonElement} */ (need('#play-all')).disabled = left.length === 0;
}

function drawFilter() {
  const all = rows.map(answersOf);
  const boxes = [...FILTERS, ['flagged', 'Flagged']].flatMap(([name, label]) => {
    const choices = choicesOf(all, name);
    if (choices.length === 0) return [];
    const options = choices.map((value) => el('option', { value }, name === 'flagged' ? 'flagged' : value));
    const select = /** @type {HTMLSelectElement} */ (el('select', { 'aria-label': label }, el('option', { value: '' }, 'any'), ...options));
    select.addEventListener('change', () => {
      wanted[name] = select.value;
      filter();
    });
    return [el('label', {}, label, select)];
  });
  need('#clip-filter').replaceChildren(...boxes);
  need('#clip-filter').hidden = boxes.length === 0;
}

// ---- the reel

/** @param {string} key */
const rowOf = (key) => rows.find((row) => row.dataset.key === key);

/** @param {string[]} keys @param {string} [focus] */
function setReel(keys, focus) {
  reel = [...new Set(keys)];
  need('#reel').hidden = reel.length === 0;
  need('#reel ol').replaceChildren(...reel.flatMap((key, at) => pieceOf(key, at)));
  for (const row of rows) checkboxOf(row).checked = reel.includes(row.dataset.key ?? '');
  setThumbnails(need('#reel'), controls.previews, player);
  if (focus) /** @type {HTMLElement | null} */ (document.querySelector(`#reel [data-key="${CSS.escape(focus)}"] .grip`))?.focus();
}

/** @param {HTMLElement} row */
const checkboxOf = (row) => /** @type {HTMLInputElement} */ (need('input[type="checkbox"]', row));

/** @param {string} key @param {number} at */
function pieceOf(key, at) {
  const row = rowOf(key);
  if (!row) return [];
  const words = need('th span', row).textContent ?? '';
  const grip = el('button', { type: 'button', class: 'grip', 'aria-label': `${words}, place ${at + 1} of ${reel.length}. Arrow keys move it.` }, el('i', { 'data-picture': spanOf(row).start_us }), words);
  const out = el('button', { type: 'button', class: 'out', onclick: () => setReel(reel.filter((one) => one !== key)) }, 'Remove', el('span', { class: 'out-of-sight' }, ` ${words}`));
  return [el('li', { 'data-key': key }, el('input', { type: 'hidden', name: 'rally', value: key }), grip, out)];
}

function takeReel() {
  for (const row of rows) {
    const box = checkboxOf(row);
    box.removeAttribute('name'); // the reel says which, and in which order
    box.addEventListener('change', () => setReel(box.checked ? [...reel, row.dataset.key ?? ''] : reel.filter((key) => key !== row.dataset.key)));
    row.draggable = true;
    row.addEventListener('dragstart', (event) => {
      event.dataTransfer?.setData('text/plain', row.dataset.key ?? '');
      need('#reel').hidden = false;
    });
    row.addEventListener('dragend', () => setReel(reel));
  }
  makeSortable(need('#reel ol'), (item) => {
    const keys = /** @type {HTMLElement[]} */ ([...need('#reel ol').children]).map((one) => one.dataset.key ?? '');
    setReel(keys, item.dataset.key);
    say(`${need('.grip', item).textContent}: place ${keys.indexOf(item.dataset.key ?? '') + 1} of ${keys.length}.`);
  });
  const home = need('#reel');
  home.addEventListener('dragover', (event) => {
    event.preventDefault();
    home.classList.add('target');
  });
  home.addEventListener('dragleave', () => home.classList.remove('target'));
  home.addEventListener('drop', (event) => {
    event.preventDefault();
    home.classList.remove('target');
    const key = event.dataTransfer?.getData('text/plain') ?? '';
    if (rowOf(key)) setReel([...reel, key]);
  });
  setReel(rows.filter((row) => checkboxOf(row).checked).map((row) => row.dataset.key ?? '')); // as the browser restored them
}

for (const row of rows) need('[data-start]', row).addEventListener('click', () => play([spanOf(row)]));
need('#play-all').addEventListener('click', () => play(rows.filter((row) => !row.hidden).map(spanOf)));
if (rows.length) {
  player.spans = rows.map(spanOf).toSorted((a, b) => a.start_us - b.start_us);
  player.seek(player.spans[0].start_us);
  drawFilter();
  takeReel();
  filter();
}
listen({
  ...controls.actions,
  earlier: () => controls.seek(player.nowUs - TWO_SECONDS),
  later: () => controls.seek(player.nowUs + TWO_SECONDS),
  room: () => toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});
show();
document.documentElement.dataset.ready = 'show';
