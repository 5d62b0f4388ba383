// @ts-check
/* Search: conditions change the list in place, rallies of any match play in the one player, ticks last over searches.

   The server draws the page; a change of conditions asks for the page anew and takes the parts of it that changed. */

import { ask, RefusedError } from '../../lib/server/json-requests.js';
import { el, need } from '../../lib/page/dom.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { count } from '../../lib/page/time-and-score-format.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';

/** @typedef {{match: string, key: string, start_us: number, end_us: number, words: string, href: string}} Found */

const TWO_SECONDS = 2_000_000;
const TYPING_MS = 300;
const READING_MS = 2000;
const main = need('#main');
const panel = need('#clip-panel');
/** @type {AbortController | null} */
let asking = null;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let typing;
/** @type {Element | null} conditions to put in once the coach has left the field */
let waiting = null;
/** @type {Set<string>} rallies ticked in this search and those before */
const ticked = new Set();
/** @type {{match: string, player: VideoPlayer, controls: PlayerControls} | null} */
let playing = null;
/** @type {Found[]} */
let queue = [];
let at = 0;
/** @type {Element | null} */
let from = null;

// ---- conditions

/** Ask for the page of other conditions, and take what changed. @param {string} address @param {{push?: boolean, focus?: string}} [how] */
async function search(address, { push = true, focus = '' } = {}) {
  clearTimeout(typing);
  asking?.abort();
  const mine = new AbortController();
  asking = mine;
  main.setAttribute('aria-busy', 'true');
  try {
    const answer = await fetch(address, { signal: mine.signal });
    const next = new DOMParser().parseFromString(await answer.text(), 'text/html');
    if (!next.querySelector('#found-words')) return location.assign(address); // another page: signed out, or an error
    take(next, focus);
    if (push) history.pushState(null, '', address);
  } catch (error) {
    if (!mine.signal.aborted) {
      if (!(error instanceof TypeError)) throw error;
      need('#found-words').textContent = 'No connection to goodlength. Check that it is running, then choose again.';
    }
  } finally {
    if (asking === mine) main.removeAttribute('aria-busy');
  }
  return undefined;
}

/** @param {Document} next @param {string} focus */
function take(next, focus) {
  need('#found-words').replaceChildren(...need('#found-words', next).childNodes);
  for (const id of ['#chips', '#faults', '#found']) need(id).replaceWith(need(id, next));
  const adding = need('#adding', next);
  if (isTyping()) waiting = adding;
  else putConditions(adding);
  if (focus) /** @type {HTMLElement | null} */ (document.querySelector(focus) ?? document.querySelector('#adding summary'))?.focus();
  updateSelection();
  mark();
  askAgain();
}

/** While the matches are being read for the first time: ask again by itself. */
function askAgain() {
  if (document.querySelector('#found-words [data-reading]')) typing = setTimeout(() => void search(location.pathname + location.search, { push: false }), READING_MS);
}

/** Whether the coach is in a field of a condition, which must stay. */
const isTyping = () => document.activeElement instanceof HTMLInputElement && document.activeElement.closest('#adding') !== null;

/** @param {Element} adding */
function putConditions(adding) {
  waiting = null;
  need('#adding').replaceWith(adding);
}

/** The address a form of a condition asks for. @param {HTMLFormElement} form */
function addressOf(form) {
  const asked = new URLSearchParams();
  for (const [name, value] of new FormData(form)) if (typeof value === 'string' && value.trim()) asked.append(name, value.trim());
  return `/search${asked.size ? `?${asked}` : ''}`;
}

main.addEventListener('click', (event) => {
  if (!(event.target instanceof Element)) return;
  const plain = !(event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) && event.button === 0;
  const link = event.target.closest('a[data-search]');
  if (plain && link) {
    event.preventDefault();
    const condition = link.closest('details')?.dataset.condition;
    const chip = link.getAttribute('data-chip');
    void search(link.getAttribute('href') ?? '', { focus: condition ? `[data-chip="${condition}"]` : `[data-condition="${chip}"] summary` });
  }
  const rally = event.target.closest('.play-rally');
  if (plain && rally) {
    event.preventDefault();
    const found = rows();
    const n = found.findIndex((one) => one.href === rally.getAttribute('href'));
    void open(rally, found.slice(n, n + 1), 0);
  }
  if (event.target.closest('#play-found')) void open(event.target, rows(), 0);
  if (event.target.closest('#tick-all')) tick(boxes(), true);
  if (event.target.closest('#tick-none')) {
    ticked.clear();
    tick(boxes(), false);
  }
});
main.addEventListener('submit', (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.closest('#adding')) return;
  event.preventDefault();
  const name = form.closest('details')?.dataset.condition === 'text' ? 'text' : 'since';
  if (document.activeElement instanceof HTMLElement) document.activeElement.blur();
  void search(addressOf(form), { focus: `[data-chip="${name}"]` });
});
main.addEventListener('input', (event) => {
  const form = event.target instanceof HTMLInputElement ? event.target.form : null;
  if (!form?.closest('#adding')) return;
  clearTimeout(typing);
  typing = setTimeout(() => void search(addressOf(form), { push: false }).then(() => history.replaceState(null, '', addressOf(form))), TYPING_MS);
});
main.addEventListener('focusout', () => setTimeout(() => waiting && !isTyping() && putConditions(waiting)));
document.addEventListener('click', (event) => {
  for (const one of /** @type {NodeListOf<HTMLDetailsElement>} */ (document.querySelectorAll('#adding details[open]'))) {
    if (!(event.target instanceof Node && one.contains(event.target))) one.open = false;
  }
});
addEventListener('popstate', () => void search(location.pathname + location.search, { push: false }));

// ---- ticks

const boxes = () => /** @type {HTMLInputElement[]} */ ([...document.querySelectorAll('#found input[name="rally"][type="checkbox"]')]);

/** @param {HTMLInputElement[]} some @param {boolean} on */
function tick(some, on) {
  for (const box of some) ticked[on ? 'add' : 'delete'](box.value);
  updateSelection();
}

/** Check the boxes of what is ticked; what is ticked and not listed goes along unseen, and is said. */
function updateSelection() {
  const form = document.querySelector('#make');
  if (!form) return;
  const listed = new Set(boxes().map((box) => box.value));
  for (const box of boxes()) box.checked = ticked.has(box.value);
  for (const old of form.querySelectorAll('input[type="hidden"][name="rally"]')) old.remove();
  const elsewhere = [...ticked].filter((id) => !listed.has(id));
  form.append(...elsewhere.map((id) => el('input', { type: 'hidden', name: 'rally', value: id })));
  const unseen = elsewhere.length ? `, ${elsewhere.length} of them not in this list` : '';
  need('#ticked').textContent = ticked.size ? `${count(ticked.size, 'rally', 'rallies')} ticked${unseen}` : '';
  need('#tick-none').hidden = ticked.size === 0;
}

main.addEventListener('change', (event) => {
  if (event.target instanceof HTMLInputElement && event.target.name === 'rally') tick([event.target], event.target.checked);
});

// ---- playing in place

/** The rallies listed that have a time. @returns {Found[]} */
function rows() {
  return /** @type {HTMLTableRowElement[]} */ ([...document.querySelectorAll('#found tr[data-start]')]).map((row) => ({
    match: row.dataset.match ?? '',
    key: row.dataset.key ?? '',
    start_us: Number(row.dataset.start),
    end_us: Number(row.dataset.end),
    words: `${row.cells[2].firstChild?.textContent}, ${need('.play-rally', row).textContent?.trim().toLowerCase()}`,
    href: need('.play-rally', row).getAttribute('href') ?? '',
  }));
}

/** @param {Element} opener @param {Found[]} found @param {number} n */
async function open(opener, found, n) {
  if (found.length === 0) return;
  from = opener;
  queue = found;
  panel.hidden = false;
  await show(n);
  need('#clip-title').focus({ preventScroll: true });
  panel.scrollIntoView({ block: 'nearest' });
}

/** A player for a match: the one in hand, or a fresh one in its place. @param {string} match */
async function playerOf(match) {
  if (playing?.match === match) return playing;
  playing?.player.pause();
  const { parts } = /** @type {import('../../lib/server/message-types.js').Files} */ (await ask(`/api/matches/${encodeURIComponent(match)}/films`));
  if (parts.length === 0) throw new RefusedError(404, 'none', 'This match has no video that can be played here. Add one on its Footage page.');
  const template = /** @type {HTMLTemplateElement} */ (need('#player-template'));
  for (const video of document.querySelectorAll('#clip-player video')) video.removeAttribute('src');
  need('#clip-player').replaceChildren(template.content.cloneNode(true));
  const player = new VideoPlayer(need('#frame'), parts, moved);
  const controls = new PlayerControls(player, { match, rally: () => queue[at] ?? null, tell: say });
  playing = { match, player, controls };
  return playing;
}

function moved() {
  const now = queue[at];
  if (!playing || !now || playing.match !== now.match) return;
  const { player } = playing;
  need('#trouble').hidden = player.problems.length === 0;
  if (!player.playing || player.loop || player.nowUs < now.end_us) return;
  if (at < queue.length - 1) void show(at + 1);
  else player.pause();
}

/** @param {string} words */
function say(words) {
  need('#clip-state').textContent = words;
}

/** @param {number} n */
async function show(n) {
  at = Math.max(0, Math.min(queue.length - 1, n));
  const now = queue[at];
  need('#clip-title').textContent = `${queue.length > 1 ? `${at + 1} of ${queue.length}: ` : ''}${now.words}`;
  need('#clip-show').setAttribute('href', now.href);
  for (const [id, out] of /** @type {[string, boolean][]} */ ([['#clip-before', at === 0], ['#clip-after', at === queue.length - 1]])) {
    /** @type {HTMLButtonElement} */ (need(id)).disabled = out;
    need(id).hidden = queue.length === 1;
  }
  say('');
  mark();
  try {
    const { player } = await playerOf(now.match);
    if (queue[at] !== now) return; // another was chosen meanwhile
    player.loop = null;
    player.spans = queue.filter((one) => one.match === now.match).toSorted((a, b) => a.start_us - b.start_us);
    player.seek(now.start_us, true);
  } catch (error) {
    need('#clip-player').replaceChildren();
    playing = null;
    const other = queue.findIndex((one, later) => later > at && one.match !== now.match);
    if (error instanceof RefusedError && other > 0) {
      await show(other);
      if (playing) say(`Left out: ${now.words.split(', game')[0]}, which has no video here.`);
    } else say(error instanceof RefusedError ? error.words : 'No connection to goodlength. Check that it is running, then press the rally again.');
  }
}

/** Show which row plays. */
function mark() {
  const now = panel.hidden ? undefined : queue[at];
  for (const row of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll('#found tr[data-start]'))) {
    row.classList.toggle('playing', now !== undefined && row.dataset.match === now.match && row.dataset.key === now.key);
  }
}

function close() {
  playing?.player.pause();
  panel.hidden = true;
  mark();
  if (from instanceof HTMLElement && from.isConnected) from.focus();
}

need('#clip-before').addEventListener('click', () => void show(at - 1));
need('#clip-after').addEventListener('click', () => void show(at + 1));
need('#clip-close').addEventListener('click', close);
document.addEventListener('keydown', (event) => {
  if (event.key !== 'Escape' || event.defaultPrevented || document.fullscreenElement || document.querySelector('dialog[open]')) return;
  const opened = /** @type {HTMLDetailsElement | null} */ (document.querySelector('#adding details[open]'));
  if (opened) {
    opened.open = false;
    need('summary', opened).focus();
  } else if (!panel.hidden) close();
  else return;
  event.preventDefault();
});
const own = /** @type {Record<string, () => void>} */ ({
  earlier: () => playing?.controls.seek(playing.player.nowUs - TWO_SECONDS),
  later: () => playing?.controls.seek(playing.player.nowUs + TWO_SECONDS),
  room: () => toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});
// the player in hand changes with the match: its actions are looked up when a key is pressed
listen(
  new Proxy(own, { get: (mine, name) => mine[String(name)] ?? playing?.controls.actions[String(name)] }),
  () => !panel.hidden,
);
for (const box of boxes()) if (box.checked) ticked.add(box.value); // as the browser restored them
updateSelection();
askAgain();
document.documentElement.dataset.ready = 'search';
