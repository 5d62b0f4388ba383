// @ts-check
/* Small pictures of moments in a list, cut from the preview sheets once they are there. */

/**
 * Set the picture of each element with `data-picture`, a match time.
 * @param {ParentNode} within @param {import('./preview-pictures.js').PreviewPictures} previews @param {{partAt: (us: number) => import('../video/multi-file-player.js').Part}} player
 */
export function setThumbnails(within, previews, player) {
  for (const element of within.querySelectorAll('[data-picture]')) {
    const us = Number(element.getAttribute('data-picture')) + 1_000_000; // a second in: the serve is under way
    const tile = previews.at(player.partAt(us), us);
    if (!(element instanceof HTMLElement) || !tile) continue;
    const scale = 54 / tile.height;
    element.style.backgroundImage = `url("${tile.url}")`;
    element.style.backgroundSize = `${tile.sheetWidth * scale}px auto`;
    element.style.backgroundPosition = `-${tile.x * scale}px -${tile.y * scale}px`;
    element.style.width = `${Math.round(tile.width * scale)}px`;
    element.dataset.ready = '1';
  }
}
