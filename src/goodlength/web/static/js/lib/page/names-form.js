// @ts-check
/* The two players of a match, saved as soon as both names are there. */

import { ask, failureWords } from '../server/json-requests.js';
import { need } from './dom.js';

/**
 * Save the names as they are typed; `match` gives the match's id once there is one.
 * @param {HTMLFormElement} form @param {() => string} match @param {(title: string) => void} [saved]
 * @returns {() => Promise<boolean>}  saves what is typed; whether nothing is left unsaved
 */
export function namesForm(form, match, saved = () => {}) {
  const words = need('#names-words', form);
  let last = plain(form);

  async function save() {
    const typed = plain(form);
    const { a, b, coached } = Object.fromEntries(/** @type {Iterable<[string, string]>} */ (new FormData(form)));
    if (!a?.trim() || !b?.trim()) return !a?.trim() && !b?.trim();
    if (typed === last) return true;
    try {
      const answer = await ask(`/api/matches/${encodeURIComponent(match())}/names`, { body: { a, b, coached } });
      last = typed;
      words.textContent = 'Saved.';
      saved(/** @type {import('../server/message-types.js').SavedNames} */ (answer).title);
      return true;
    } catch (error) {
      words.textContent = failureWords(error, 'The connection dropped. The names are not saved yet; try again.');
      return false;
    }
  }
  form.addEventListener('change', () => void save());
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    last = '';
    void save();
  });
  return save;
}

/** @param {HTMLFormElement} form */
function plain(form) {
  return JSON.stringify([...new FormData(form)]);
}
