// @ts-check
/* The rally card: the sentence so far, the red line, one question with numbered answers; or the call. */

import { el } from '../page/dom.js';
import { isPhone } from '../page/phone-order.js';

/**
 * @typedef {{words: string, key: string, press: () => void, given?: boolean, proposed?: string}} Answer
 * @typedef {{words: string, key?: string, press: () => void, main?: boolean, small?: boolean}} Act
 * @typedef {{words: string, press?: () => void, open?: boolean, proposed?: boolean}} Piece
 * @typedef {{
 *   pieces: Piece[], count: string, ask?: string, answers?: Answer[], hints?: Act[],
 *   text?: string, call?: string, waits?: string, nextServe?: string, acts?: Act[], body?: Node
 * }} CardView
 */

/** @param {HTMLElement} card @param {CardView} view */
export function drawCard(card, view) {
  const hadFocus = card.contains(document.activeElement);
  card.replaceChildren(
    sentenceLine(view),
    ...(view.call !== undefined || view.waits !== undefined ? called(view) : asked(view)),
  );
  fit(card);
  if (hadFocus) /** @type {HTMLElement | null} */ (card.querySelector('[data-focus], #question, .call'))?.focus();
  const field = card.querySelector('[data-focus]');
  if (field instanceof HTMLElement) field.focus();
}

/**
 * A long sentence or question takes its room from the lines below, so that the card keeps its height.
 * @param {HTMLElement} card
 */
function fit(card) {
  card.classList.remove('two-lines', 'small-question');
  const heightOf = (/** @type {string} */ selector) => card.querySelector(selector)?.getBoundingClientRect().height ?? 0;
  if (heightOf('#question') > 44) card.classList.add('small-question');
  if (heightOf('.rally-sentence') > 52) card.classList.add('two-lines');
}

/** @param {CardView} view */
function sentenceLine(view) {
  const pieces = view.pieces.map((piece) =>
    piece.press
      ? el('button', { type: 'button', class: piece.proposed ? 'from-path' : undefined, onclick: piece.press, 'aria-current': piece.open ? 'true' : undefined }, piece.words, piece.proposed ? el('span', { class: 'by-path' }, ' (proposed)') : null)
      : piece.words,
  );
  return el('p', { class: 'rally-sentence' }, el('span', {}, ...pieces), el('span', { class: 'count' }, view.count));
}

/** @param {CardView} view */
function asked(view) {
  const answers = view.answers ?? [];
  const rows = Math.max(1, Math.ceil(answers.length / 2));
  const list = el(
    'ol',
    { class: `answers rows-${answers.length > 6 ? rows : 3}` },
    ...answers.map((answer, at) =>
      el(
        'li',
        { class: at === (answers.length > 6 ? rows : 3) - 1 ? 'foot-of-column' : undefined },
        el(
          'button',
          { type: 'button', class: answer.given ? 'given' : undefined, onclick: answer.press },
          el('kbd', {}, answer.key),
          answer.words,
          answer.proposed ? el('span', { class: 'proposed' }, answer.proposed) : null,
        ),
      ),
    ),
  );
  const question = el('h1', { id: 'question', tabindex: -1 }, view.ask ?? '');
  const hints = el('p', { class: 'note' }, ...(view.hints ?? []).map(hint));
  const choices = [...(view.text ? [el('p', { class: 'about-these' }, view.text)] : []), view.body ?? list];
  if (isPhone()) return [el('div', { class: 'ask' }, question), ...choices, el('div', { class: 'ask' }, hints)];
  return [el('div', { class: 'ask' }, question, hints), ...choices];
}

/** @param {Act} act */
function hint(act) {
  return el('button', { type: 'button', onclick: act.press }, act.key ? el('kbd', {}, act.key) : null, ` ${act.words}`);
}

/** @param {CardView} view */
function called(view) {
  const words = view.call ?? view.waits ?? '';
  const looks = view.call === undefined ? 'call waits' : words.length > 34 ? 'call long' : 'call';
  return [
    el('h1', { class: 'out-of-sight' }, 'The call after the rally'),
    el('p', { class: looks, tabindex: -1 }, view.call === undefined ? words : `“${words}.”`),
    el(
      'div',
      { class: 'after' },
      ...(view.acts ?? []).filter((act) => !act.small).map(pressed),
    ),
    el('div', { class: 'lesser' }, ...(view.acts ?? []).filter((act) => act.small).map(pressed)),
    view.nextServe ? el('p', { class: 'next-serve' }, view.nextServe) : null,
  ].filter((part) => part !== null);
}

/** @param {Act} act */
function pressed(act) {
  const looks = act.small ? 'link' : act.main ? 'button' : 'button plain';
  return el('button', { type: 'button', class: looks, onclick: act.press }, act.words, act.key ? el('kbd', {}, act.key) : null);
}
