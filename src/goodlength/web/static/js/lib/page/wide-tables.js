// @ts-check
/* A table wider than the screen says so: words above it, an edge that fades, and a stop for the keyboard. */

/** @param {HTMLElement} box a part that scrolls sideways where it is narrow */
function markWide(box) {
  const hidden = box.scrollWidth - box.clientWidth;
  if (hidden <= 1) {
    delete box.dataset.more;
    return;
  }
  const left = box.scrollLeft > 1;
  const right = box.scrollLeft < hidden - 1;
  box.dataset.more = left && right ? 'left right' : left ? 'left' : 'right';
  if (!box.hasAttribute('tabindex')) box.tabIndex = 0;
}

/** Watch every such part of the page. */
export function watchWideTables() {
  const watch = new ResizeObserver((changes) => changes.forEach((change) => markWide(/** @type {HTMLElement} */ (change.target))));
  for (const box of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll('.scroll-x'))) {
    watch.observe(box);
    box.addEventListener('scroll', () => markWide(box), { passive: true });
  }
}
