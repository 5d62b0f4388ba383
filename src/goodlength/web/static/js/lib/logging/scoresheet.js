// @ts-check
/* The marker's sheet: a line for each serve, the box letter and the server's score in the server's column. */

import { ball, el, svg } from '../page/dom.js';
import { count, score } from '../page/time-and-score-format.js';

/** @typedef {import('../server/message-types.js').Sheet} Sheet @typedef {import('./optimistic-answers.js').ShownRally} ShownRally */
/** @typedef {import('../server/message-types.js').Side} Side */

const COLUMN_X = { a: 39, b: 56 };
const LEAST_ROWS = 21;
const MOST_NARROW = 2;

/**
 * @typedef {{
 *   sheet: Sheet, rallies: ShownRally[], openKey: string, shownGame: number, gameInPlay: number,
 *   words: (rally: ShownRally) => string, brief: (rally: ShownRally) => string, open: (key: string) => void, show: (game: number) => void
 * }} View
 */

/** Lines that do not fit are a stop for the keyboard, also where room was lost after they were drawn. */
const scrolling = new ResizeObserver((changes) => {
  for (const { target } of changes) {
    if (target.scrollHeight > target.clientHeight) target.setAttribute('tabindex', '0');
    else target.removeAttribute('tabindex');
  }
});

/** Draw the sheet anew. @param {HTMLElement} grid @param {View} view */
export function drawSheet(grid, view) {
  const row_px = parseFloat(getComputedStyle(grid).getPropertyValue('--row')) || 26;
  const hadFocus = grid.contains(document.activeElement) ? document.activeElement?.getAttribute('data-rally') : null;
  const games = numbers(view);
  const finished = games.filter((n) => n !== view.shownGame);
  const roomy = games.length <= 3;
  const narrow = new Set(finished.slice(roomy ? -MOST_NARROW : games.length === 4 ? -2 : -1));
  const columns = games.map((n) => {
    if (n === view.shownGame) return gameColumn(n, view, true, row_px);
    return narrow.has(n) ? gameColumn(n, view, false, row_px) : foldedColumn(n, view);
  });
  const left = roomy ? stub(games.length, view.sheet.match.best_of) : null;
  grid.className = `grid of-${games.map((n) => (n === view.shownGame ? 'w' : narrow.has(n) ? 'n' : 'f')).join('')}${left ? 's' : ''}`;
  grid.replaceChildren(...columns, ...(left ? [left] : []));
  for (const lines of grid.querySelectorAll('.lines')) {
    const open = lines.querySelector('tr.open');
    if (open instanceof HTMLElement) lines.scrollTop = Math.max(0, open.offsetTop - lines.clientHeight + 2 * row_px);
    scrolling.observe(lines);
  }
  const wide = grid.querySelector('.game.wide'); // on a phone the game in hand is brought into view
  if (wide instanceof HTMLElement && grid.scrollWidth > grid.clientWidth + 1) grid.scrollLeft = wide.offsetLeft - grid.offsetLeft;
  if (hadFocus) /** @type {HTMLElement | null} */ (grid.querySelector(`[data-rally="${CSS.escape(hadFocus)}"]`))?.focus();
}

/** The games to show: all that have a rally or are in play. @param {View} view */
function numbers(view) {
  const last = Math.max(view.gameInPlay, ...view.rallies.map((rally) => rally.game), 1);
  return Array.from({ length: last }, (_, at) => at + 1);
}

/** @param {number} n @param {View} view @param {boolean} wide @param {number} row_px height of a line */
function gameColumn(n, view, wide, row_px) {
  const rallies = view.rallies.filter((rally) => rally.game === n);
  const game = view.sheet.games.find((known) => known.n === n);
  const { a, b } = view.sheet.short;
  const blank = Math.max(0, LEAST_ROWS - rallies.length - (game?.winner ? 1 : 0));
  const body = el(
    'tbody',
    {},
    ...rallies.map((rally) => line(rally, view, wide)),
    game?.winner ? lastLine(game, wide) : null,
    ...Array.from({ length: blank }, () => el('tr', { class: 'blank' }, ...cells(wide))),
  );
  const caption = `Game ${n}: each line is a rally, with the box and the server’s score`;
  const table = el(
    'table',
    {},
    el('caption', { class: 'out-of-sight' }, caption),
    el(
      'thead',
      {},
      el(
        'tr',
        {},
        el('th', { scope: 'col', title: view.sheet.names.a }, fitting(a)),
        el('th', { scope: 'col', title: view.sheet.names.b }, fitting(b)),
        wide ? el('th', { scope: 'col', class: 'w' }, el('span', { class: 'out-of-sight' }, view.sheet.match.depth === 'score' ? 'Who won, and how' : 'Serve and return')) : null,
      ),
    ),
    body,
  );
  return el(
    'div',
    { class: wide ? 'game wide' : 'game', 'data-n': summary(rallies) },
    heading(n, game ? score(game.points) : '', view, wide),
    el('div', { class: 'lines', role: 'group', 'aria-label': `Lines of game ${n}` }, table, strokes(rallies, game, body, row_px)),
  );
}

/** A name as far as it fits its column. @param {string} name */
const fitting = (name) => (name.length > 8 ? `${name.slice(0, 7)}…` : name);

/** A finished game with no room: its score and a way to open it. @param {number} n @param {View} view */
function foldedColumn(n, view) {
  const game = view.sheet.games.find((known) => known.n === n);
  const rallies = view.rallies.filter((rally) => rally.game === n);
  return el(
    'div',
    { class: 'game folded' },
    heading(n, game ? score(game.points) : '', view, false),
    el('p', { class: 'note' }, summary(rallies)),
  );
}

/** @param {number} n @param {string} points @param {View} view @param {boolean} shown */
function heading(n, points, view, shown) {
  const name = shown
    ? `Game ${n}`
    : el('button', { type: 'button', onclick: () => view.show(n), 'aria-label': `Show game ${n}` }, `Game ${n}`);
  return el('h3', {}, name, el('span', { class: 'tab' }, points));
}

/** @param {ShownRally[]} rallies */
function summary(rallies) {
  const lets = rallies.filter((rally) => rally.let).length;
  return count(rallies.length - lets, 'rally', 'rallies') + (lets ? `, ${count(lets, 'let')}` : '');
}

/** @param {boolean} wide */
function cells(wide) {
  return wide ? [el('td'), el('td'), el('td', { class: 'w' })] : [el('td'), el('td')];
}

/** @param {ShownRally} rally @param {View} view @param {boolean} wide */
function line(rally, view, wide) {
  const open = rally.key === view.openKey;
  const row = el('tr', { class: [rally.let ? 'let' : '', open ? 'open' : ''].join(' ').trim() || undefined });
  if (open) row.setAttribute('aria-current', 'true');
  const mine = el('td', { class: 's' }, press(rally, view, open));
  const other = el('td', rally.let && !wide ? { class: 'let' } : {}, rally.let && !wide ? 'let' : null);
  row.append(...(rally.server === 'b' ? [other, mine] : [mine, other]));
  if (wide) row.append(el('td', { class: 'w' }, ...note(rally, view, open)));
  return row;
}

/** @param {ShownRally} rally @param {View} view @param {boolean} open */
function press(rally, view, open) {
  const { short } = view.sheet;
  const server = rally.server ? short[rally.server] : 'server not known yet';
  const points = rally.before && rally.server ? rally.before[rally.server === 'a' ? 0 : 1] : '?';
  const say = `Rally ${rally.n}, game ${rally.game}. ${rally.hand_out ? 'Hand-out. ' : ''}${server}, ${rally.box ?? 'no'} box, ${
    rally.before ? score(rally.before) : 'score not known yet'
  }. ${view.words(rally)}`;
  return el(
    'button',
    { type: 'button', 'data-rally': rally.key, tabindex: open ? 0 : -1, 'aria-label': say, onclick: () => view.open(rally.key) },
    el('i', { 'aria-hidden': 'true' }, rally.box ? rally.box[0].toUpperCase() : ''),
    el('b', { 'aria-hidden': 'true' }, String(points)),
  );
}

/** @param {ShownRally} rally @param {View} view @param {boolean} open */
function note(rally, view, open) {
  const signs = `${rally.measured ? ` · ${rally.measured}` : ''}${rally.note ? ' · note' : ''}`;
  if (open && !rally.complete) return [ball(), 'open'];
  return [open ? ball() : null, rally.keep ? flag() : null, view.brief(rally) + signs];
}

/** A small flag: the rally is flagged for clips. */
function flag() {
  return svg('svg', { class: 'flag', viewBox: '0 0 12 12', role: 'img', 'aria-label': 'flagged' }, svg('path', { d: 'M2.5 0.5V11.5M2.5 1H10.5L8 3.75L10.5 6.5H2.5Z' }));
}

/** The score that ended the game, underlined twice. @param {import('../server/message-types.js').Game} game @param {boolean} wide */
function lastLine(game, wide) {
  const won = el('td', { class: 's won' }, el('b', {}, String(game.points[game.winner === 'a' ? 0 : 1])));
  const pair = game.winner === 'a' ? [won, el('td')] : [el('td'), won];
  return el('tr', {}, ...pair, wide ? el('td', { class: 'w' }) : null);
}

/**
 * Slanting strokes between two lines of different servers.
 * @param {ShownRally[]} rallies @param {import('../server/message-types.js').Game | undefined} game @param {HTMLElement} body
 * @param {number} row_px
 */
function strokes(rallies, game, body, row_px) {
  const columns = rallies.map((rally) => rally.server);
  if (game?.winner) columns.push(game.winner);
  let d = '';
  columns.forEach((side, at) => {
    const next = columns[at + 1];
    if (!side || !next || side === next) return;
    const y = row_px * (at + 0.78);
    d += `M${COLUMN_X[side]} ${y.toFixed(1)}L${COLUMN_X[next]} ${(y + row_px / 2).toFixed(1)}`;
  });
  const height = row_px * body.childElementCount;
  return svg(
    'svg',
    { class: 'hand', width: 96, height, viewBox: `0 0 96 ${height}`, 'aria-hidden': 'true' },
    svg('path', { d }),
  );
}

/** Games that may still be played. @param {number} shown @param {number} bestOf */
function stub(shown, bestOf) {
  const left = Array.from({ length: bestOf - shown }, (_, at) => shown + 1 + at);
  if (left.length === 0) return null;
  const words = left.length === 1 ? `Game ${left[0]}` : `Games ${left.length === 2 ? left.join(', ') : `${left[0]}–${left[left.length - 1]}`}`;
  return el('div', { class: 'game stub' }, el('h3', {}, words), el('div', { class: 'rules' }));
}

/**
 * Go to a line: arrow keys move, Enter opens (as a button does by itself).
 * @param {HTMLElement} grid @param {number} by
 */
export function moveInSheet(grid, by) {
  const lines = /** @type {HTMLElement[]} */ ([...grid.querySelectorAll('[data-rally]')]);
  const at = lines.indexOf(/** @type {HTMLElement} */ (document.activeElement));
  const to = lines[Math.max(0, Math.min(lines.length - 1, (at < 0 ? lines.length : at) + by))];
  to?.focus();
}

/** The line of a rally, or the open one. @param {HTMLElement} grid */
export function focusSheet(grid) {
  const open = grid.querySelector('tr.open [data-rally]') ?? [...grid.querySelectorAll('[data-rally]')].pop();
  if (open instanceof HTMLElement) open.focus();
  return open !== null && open !== undefined;
}

