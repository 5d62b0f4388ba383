// @ts-check
/* On a phone the question and its answers stand above what is pressed beside them. The elements move, so that the
   Tab key and screen readers go the way the eye goes. */

const phone = matchMedia('(max-width: 640px)'); // as in the style sheets

/** Whether the page is as narrow as a phone. */
export const isPhone = () => phone.matches;

/**
 * Let an element stand before another on a phone, and after it elsewhere; `moved` is called at each change.
 * @param {HTMLElement} element @param {HTMLElement} other @param {() => void} moved
 */
export function firstOnPhone(element, other, moved) {
  const place = () => (phone.matches ? other.before(element) : other.after(element));
  place();
  phone.addEventListener('change', () => {
    place();
    moved();
  });
}
