// @ts-check
/* From a key to an action. What each key does stands in the `?` list of the page, made from web/views/keyboard_shortcuts.py. */

/** @typedef {(press: string) => void} Action */

/** Where keys are text, not commands. @param {EventTarget | null} target */
function isText(target) {
  return target instanceof HTMLElement && target.closest('input, textarea, select, [contenteditable]') !== null;
}

/** @param {EventTarget | null} target */
function isPressable(target) {
  return target instanceof HTMLElement && target.closest('button, a, summary') !== null;
}

/** The name of a key press as web/views/keyboard_shortcuts.py writes it. @param {KeyboardEvent} event */
export function pressName(event) {
  if (event.key === ' ') return 'Space';
  const name = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  return event.shiftKey && name.startsWith('Arrow') ? `Shift+${name}` : name;
}

/**
 * Let keys and the buttons that stand for them do what they are for.
 * @param {Record<string, Action>} actions  by the names in `data-action`
 * @param {() => boolean} [active]  whether keys are meant for these now; left out, always
 */
export function listen(actions, active = () => true) {
  /** @type {Map<string, string>} */
  const byPress = new Map();
  for (const button of document.querySelectorAll('[data-press]')) {
    const action = button.getAttribute('data-action') ?? '';
    for (const press of (button.getAttribute('data-press') ?? '').split(' ')) byPress.set(press, action);
  }
  document.addEventListener('keydown', (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (!active() || isText(event.target) || document.querySelector('dialog[open]')) return;
    const press = pressName(event);
    if ((press === 'Enter' || press === 'Space') && isPressable(event.target)) return; // the browser presses it
    const action = byPress.get(press);
    if (!action || !actions[action]) return;
    if (event.repeat && !['earlier', 'later', 'frame-back', 'frame-on'].includes(action)) return;
    event.preventDefault();
    actions[action](press);
  });
  document.addEventListener('click', (event) => {
    const button = event.target instanceof Element ? event.target.closest('button[data-action]') : null;
    if (!(button instanceof HTMLButtonElement)) return;
    if (event.detail > 0) button.blur(); // a pointer pressed it: Enter and Space keep their meaning
    button.closest('dialog')?.close();
    actions[button.dataset.action ?? '']?.('');
  });
}
