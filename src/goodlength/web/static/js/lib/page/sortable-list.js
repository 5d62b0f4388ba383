// @ts-check
/* A list in an order of the coach's own: each item has a grip that is dragged, or moved by the arrow keys. */

import { need } from './dom.js';

const STEPS = /** @type {Record<string, number>} */ ({ ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1 });

/**
 * Let the items of a list be moved. Items may come and go: the list itself listens.
 * @param {HTMLElement} list @param {(item: HTMLElement) => void} moved  called with the item once it stands elsewhere
 */
export function makeSortable(list, moved) {
  const itemOf = (/** @type {EventTarget | null} */ target) => {
    const grip = target instanceof Element ? target.closest('.grip') : null;
    return grip && list.contains(grip) ? /** @type {HTMLElement | null} */ (grip.closest('li')) : null;
  };
  list.addEventListener('keydown', (event) => {
    const item = itemOf(event.target);
    const by = STEPS[event.key];
    if (!item || !by || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    const other = by < 0 ? item.previousElementSibling : item.nextElementSibling;
    if (!other) return;
    other[by < 0 ? 'before' : 'after'](item);
    need('.grip', item).focus();
    moved(item);
  });
  list.addEventListener('pointerdown', (event) => {
    const item = itemOf(event.target);
    if (!item || event.button > 0) return;
    event.preventDefault(); // no text is selected on the way
    drag(list, item, () => moved(item));
  });
}

/** @param {HTMLElement} list @param {HTMLElement} item @param {() => void} done */
function drag(list, item, done) {
  item.classList.add('moving');
  const move = (/** @type {PointerEvent} */ next) => {
    const over = document.elementFromPoint(next.clientX, next.clientY)?.closest('li');
    if (!over || over === item || over.parentElement !== list) return;
    const before = [...list.children].indexOf(over) < [...list.children].indexOf(item);
    over[before ? 'before' : 'after'](item);
  };
  const end = () => {
    removeEventListener('pointermove', move);
    item.classList.remove('moving');
    need('.grip', item).focus();
    done();
  };
  addEventListener('pointermove', move);
  for (const name of ['pointerup', 'pointercancel']) addEventListener(name, end, { once: true });
}
