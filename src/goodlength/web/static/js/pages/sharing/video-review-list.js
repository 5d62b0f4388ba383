// @ts-check
/* The clips for the player: each with its picture, chosen from pictures, in an order that is dragged. Without this script
   the rows stay as they are, with the rallies by name. */

import { need } from '../../lib/page/dom.js';
import { makeSortable } from '../../lib/page/sortable-list.js';
import { PreviewPictures } from '../../lib/player/preview-pictures.js';
import { setThumbnails } from '../../lib/player/thumbnails.js';
import { ask } from '../../lib/server/json-requests.js';
import { partAt } from '../../lib/video/multi-file-player.js';

const list = need('#review-list');
const matchId = need('#main').dataset.match ?? '';
const { parts } = /** @type {import('../../lib/server/message-types.js').Files} */ (await ask(`/api/matches/${encodeURIComponent(matchId)}/films`));
const previews = new PreviewPictures(parts);
const dialog = /** @type {HTMLDialogElement} */ (need('#pick-rally'));
/** @type {HTMLElement | null} the row that a rally is chosen for */
let choosing = null;

/** @param {Element} item */
const rallyOf = (item) => /** @type {HTMLSelectElement} */ (need('select', /** @type {HTMLElement} */ (item)));

/** Number the rows as they stand, so that they are sent in that order. */
function number() {
  for (const [n, item] of [...list.children].entries()) {
    const chosen = rallyOf(item).selectedOptions[0];
    const words = chosen?.value ? chosen.text : '';
    const pick = need('.pick', /** @type {HTMLElement} */ (item));
    pick.textContent = words || 'Choose a rally';
    pick.setAttribute('aria-label', words ? `Clip ${n + 1}: ${words}. Choose another rally` : `Clip ${n + 1}: choose a rally`);
    need('.place', item).textContent = String(n + 1);
    need('.grip', item).setAttribute('aria-label', `${chosen?.value ? chosen.text : 'No rally'}, place ${n + 1} of ${list.children.length}. Arrow keys move it.`);
    for (const field of item.querySelectorAll('[name]')) {
      field.setAttribute('name', (field.getAttribute('name') ?? '').replace(/\d+$/, String(n)));
      field.setAttribute('aria-label', (field.getAttribute('aria-label') ?? '').replace(/\d+$/, String(n + 1)));
    }
  }
}

/** Show what each row holds. */
function picture() {
  for (const item of list.children) {
    const place = need('.grip i', item);
    const start = rallyOf(item).selectedOptions[0]?.dataset.start;
    place.removeAttribute('style');
    delete place.dataset.ready;
    if (start) place.dataset.picture = start;
    else delete place.dataset.picture;
  }
  if (parts.length) for (const within of [list, dialog]) setThumbnails(within, previews, { partAt: (us) => partAt(parts, us) });
}

/** Show all rallies by their pictures, the chosen one marked. @param {HTMLElement} item */
function open(item) {
  choosing = item;
  const { value } = rallyOf(item);
  for (const button of dialog.querySelectorAll('.pick-list button')) {
    button.setAttribute('aria-pressed', String(/** @type {HTMLButtonElement} */ (button).value === value));
  }
  dialog.showModal();
  const chosen = /** @type {HTMLElement | null} */ (dialog.querySelector('[aria-pressed="true"]'));
  chosen?.focus();
}

/** @param {string} key of the rally; '' for none */
function choose(key) {
  if (!choosing) return;
  rallyOf(choosing).value = key;
  dialog.close();
  changed();
  need('.pick', choosing).focus();
}

function changed() {
  number();
  picture();
}

makeSortable(list, (item) => {
  number();
  need('#order-words').textContent = `${need('.grip', item).getAttribute('aria-label')}`.replace('. Arrow keys move it.', '. Save to keep this order.');
});
list.addEventListener('change', changed);
for (const item of /** @type {HTMLCollectionOf<HTMLElement>} */ (list.children)) {
  need('.by-name', item).hidden = true;
  need('.pick-field', item).hidden = false;
  need('.pick', item).addEventListener('click', () => open(item));
}
dialog.addEventListener('click', (event) => {
  const button = event.target instanceof Element ? event.target.closest('button') : null;
  if (button?.closest('.pick-list')) choose(button.value);
  else if (button?.id === 'pick-none') choose('');
});
for (const grip of list.querySelectorAll('.grip')) /** @type {HTMLElement} */ (grip).hidden = false;
need('#order-words').hidden = false;
previews.onFound = picture;
changed();
if (parts.length) void previews.load();
document.documentElement.dataset.ready = 'review-list';
