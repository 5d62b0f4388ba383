// @ts-check
/* Making elements without markup in strings, so that a name can never become markup. */

const SVG = 'http://www.w3.org/2000/svg';

/**
 * @param {string} tag @param {Record<string, string | number | boolean | EventListener | undefined>} [attributes]
 * @param {(Node | string | null | undefined)[]} children
 * @returns {HTMLElement}
 */
export function el(tag, attributes = {}, ...children) {
  return /** @type {HTMLElement} */ (fill(document.createElement(tag), attributes, children));
}

/**
 * @param {string} tag @param {Record<string, string | number | boolean | EventListener | undefined>} [attributes]
 * @param {(Node | string | null | undefined)[]} children
 * @returns {SVGElement}
 */
export function svg(tag, attributes = {}, ...children) {
  return /** @type {SVGElement} */ (fill(document.createElementNS(SVG, tag), attributes, children));
}

/**
 * @param {Element} element @param {Record<string, string | number | boolean | EventListener | undefined>} attributes @param {(Node | string | null | undefined)[]} children
 */
function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === false) continue;
    if (typeof value === 'function') element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? '' : String(value));
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

/** The ball: marks the one thing in hand. @param {string} [className] */
export function ball(className) {
  return svg(
    'svg',
    { viewBox: '0 0 14 14', 'aria-hidden': 'true', class: className },
    svg('circle', { class: 'ball', cx: 7, cy: 7, r: 6.3 }),
    svg('circle', { class: 'dot', cx: 5.2, cy: 5.4, r: 1.25 }),
    svg('circle', { class: 'dot', cx: 8.6, cy: 6.6, r: 1.25 }),
  );
}

/** One element of the page that must be there. @param {string} selector @param {ParentNode} [within] */
export function need(selector, within = document) {
  const found = within.querySelector(selector);
  if (!found) throw new Error(`the page lacks ${selector}`);
  return /** @type {HTMLElement} */ (found);
}
