// @ts-check
/* The Findings page: the rallies behind a number play where the number stands; tables fold on a phone. */

import { ask } from '../../lib/server/json-requests.js';
import { need } from '../../lib/page/dom.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';

/** @typedef {{start_us: number, end_us: number, words: string}} Clip */

const TWO_SECONDS = 2_000_000;
const BLOCKS = '.three, .scroll-x, .turn-sheets, .turns, .every li, p, .q';
const main = need('#main');
const matchId = main.dataset.match ?? '';
/** @type {Record<string, Clip>} by the key of the rally */
const clips = JSON.parse(main.dataset.clips || '{}');
const panel = /** @type {HTMLElement | null} */ (document.querySelector('#clip-panel'));
/** @type {{player: VideoPlayer, controls: PlayerControls} | null} */
let playing = null;
/** @type {Clip[]} */
let chosen = [];
let at = 0;
/** @type {HTMLElement | SVGElement | null} */
let from = null;

/** The rallies that a link of the page would show. @param {Element} link */
function clipsOf(link) {
  const address = new URL(link.getAttribute('href') ?? '', location.href);
  const keys = (address.searchParams.get('rallies') ?? '').split(',').filter(Boolean);
  return keys.flatMap((key) => (Object.hasOwn(clips, key) ? [clips[key]] : []));
}

async function prepare() {
  if (playing) return playing;
  const { parts } = /** @type {import('../../lib/server/message-types.js').Files} */ (await ask(`/api/matches/${encodeURIComponent(matchId)}/films`));
  const player = new VideoPlayer(need('#frame'), parts, moved);
  const controls = new PlayerControls(player, { match: matchId, rally: () => chosen[at] ?? null, tell: say });
  playing = { player, controls };
  const seek = (/** @type {number} */ by) => () => controls.seek(player.nowUs + by);
  listen(
    { ...controls.actions, earlier: seek(-TWO_SECONDS), later: seek(TWO_SECONDS), room: () => toggleTheme(), help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal() },
    () => panel !== null && !panel.hidden,
  );
  return playing;
}

function moved() {
  if (!playing || chosen.length === 0) return;
  const { player } = playing;
  need('#trouble').hidden = player.problems.length === 0;
  if (player.playing && !player.loop && player.nowUs >= chosen[at].end_us) {
    if (at < chosen.length - 1) show(at + 1);
    else player.pause();
  }
}

/** @param {string} words */
function say(words) {
  need('#clip-state').textContent = words;
}

/** @param {number} n */
function show(n) {
  at = Math.max(0, Math.min(chosen.length - 1, n));
  if (!playing) return;
  playing.player.loop = null;
  playing.player.spans = chosen;
  playing.player.seek(chosen[at].start_us, true);
  need('#clip-title').textContent = `${at + 1} of ${chosen.length}: ${chosen[at].words}`;
  /** @type {HTMLButtonElement} */ (need('#clip-before')).disabled = at === 0;
  /** @type {HTMLButtonElement} */ (need('#clip-after')).disabled = at === chosen.length - 1;
}

/** @param {HTMLElement | SVGElement} link @param {Clip[]} found */
async function open(link, found) {
  if (!panel) return;
  from = link;
  chosen = found;
  const block = link.closest(BLOCKS) ?? main;
  block[block.matches('li, .q') ? 'append' : 'after'](panel);
  need('#clip-show').setAttribute('href', link.getAttribute('href') ?? '');
  panel.hidden = false;
  say('');
  try {
    await prepare();
  } catch {
    return location.assign(link.getAttribute('href') ?? '');
  }
  show(0);
  need('#clip-title').focus({ preventScroll: true });
  panel.scrollIntoView({ block: 'nearest' });
  return undefined;
}

function close() {
  if (!panel) return;
  playing?.player.pause();
  panel.hidden = true;
  from?.focus();
}

/** Each cell says its column, for screens on which a row is a block. */
function labelCells() {
  for (const table of document.querySelectorAll('.plain-table')) {
    const heads = [...table.querySelectorAll('thead th')].map((head) => head.textContent?.trim() ?? '');
    for (const row of /** @type {NodeListOf<HTMLTableRowElement>} */ (table.querySelectorAll('tbody tr'))) {
      [...row.cells].forEach((cell, n) => cell.matches('td.bar') || cell.setAttribute('data-label', heads[n] ?? ''));
    }
  }
}

main.addEventListener('click', (event) => {
  const link = event.target instanceof Element ? event.target.closest('a[href*="/show?rallies="]') : null;
  const plain = !(event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) && event.button === 0;
  if (!panel || !plain || !(link instanceof HTMLElement || link instanceof SVGElement)) return;
  const found = clipsOf(link);
  if (found.length === 0) return; // the Show page says why
  event.preventDefault();
  void open(link, found);
});
const BY_KEY = { ArrowUp: -1, ArrowLeft: -1, ArrowDown: 1, ArrowRight: 1 };
/** The steps of a drawn game are too many to be stops of the keyboard each: arrow keys go from one to the next. */
main.addEventListener('keydown', (event) => {
  const step = event.target instanceof Element ? event.target.closest('.turn-sheets a') : null;
  if (!step || event.ctrlKey || event.metaKey || event.altKey || !(event.key in BY_KEY || event.key === 'Home' || event.key === 'End')) return;
  const steps = [...(step.closest('svg')?.querySelectorAll('a') ?? [])];
  const by = BY_KEY[/** @type {keyof typeof BY_KEY} */ (event.key)];
  const to = by === undefined ? (event.key === 'Home' ? 0 : steps.length - 1) : steps.findIndex((known) => known === step) + by;
  event.preventDefault();
  event.stopPropagation();
  steps[Math.max(0, Math.min(steps.length - 1, to))]?.focus();
});
if (panel) {
  need('#clip-before').addEventListener('click', () => show(at - 1));
  need('#clip-after').addEventListener('click', () => show(at + 1));
  need('#clip-close').addEventListener('click', close);
  document.addEventListener('keydown', (event) => {
    if (event.key !== 'Escape' || event.defaultPrevented || panel.hidden || document.fullscreenElement || document.querySelector('dialog[open]')) return;
    event.preventDefault();
    close();
  });
}
labelCells();
document.documentElement.dataset.ready = 'findings';
