// @ts-check
/* The clips for the player: each with its picture, in an order that is dragged. Without this script the rows stay as they are. */

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

/** @param {Element} item */
const rallyOf = (item) => /** @type {HTMLSelectElement} */ (need('select', /** @type {HTMLElement} */ (item)));

/** Number the rows as they stand, so that they are sent in that order. */
function number() {
  for (const [n, item] of [...list.children].entries()) {
    const chosen = rallyOf(item).selectedOptions[0];
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
  if (parts.length) setThumbnails(list, previews, { partAt: (us) => partAt(parts, us) });
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
for (const grip of list.querySelectorAll('.grip')) /** @type {HTMLElement} */ (grip).hidden = false;
need('#order-words').hidden = false;
previews.onFound = picture;
changed();
if (parts.length) void previews.load();
document.documentElement.dataset.ready = 'review-list';
