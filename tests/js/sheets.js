/* A sheet and rallies for tests, made by hand: a match at its first serve, with a script of three questions. */

import { newRally } from '../../src/goodlength/web/static/js/lib/logging/optimistic-answers.js';

/** @typedef {import('../../src/goodlength/web/static/js/lib/server/message-types.js').Sheet} Sheet */
/** @typedef {import('../../src/goodlength/web/static/js/lib/server/message-types.js').Rally} Rally */
/** @typedef {import('../../src/goodlength/web/static/js/lib/server/message-types.js').Entry} Entry */

/** @param {string} id @param {[string | null, string][]} answers @param {object} [more] */
const question = (id, answers, more = {}) => ({
  id,
  ask: `${id}?`,
  answers: answers.map(([value, words], n) => ({ value, words, key: String(n + 1), what: id })),
  unless: [],
  extra: false,
  repeats: false,
  when: '',
  free_words: false,
  ...more,
});

/** @param {Partial<Sheet>} [more] @returns {Sheet} */
export function sheetOf(more = {}) {
  return /** @type {Sheet} */ ({
    match: { id: 'm1', title: 'Vale, Ode', depth: 'serve', observer: 'coach', day: '2026-03-07', best_of: 5, coached: 'a' },
    names: { a: 'Imogen Vale', b: 'Petra Ode' },
    short: { a: 'Imogen', b: 'Petra' },
    kind_words: { lob: 'Lob', own: 'Moonball', 'body-nick': 'Body, for the back-wall nick' },
    script: {
      questions: [
        question('server', [['a', '{a}'], ['b', '{b}']], { when: 'server-unknown' }),
        question('serve.kind', [['lob', 'Lob'], ['hard', 'Hard']]),
        question('winner', [['a', '{a}'], ['b', '{b}']], { unless: [{ what: 'ending', values: ['let'], having: [] }] }),
        question('shot', [['drive', 'Drive']], { repeats: true }),
      ],
      shots: { first: 3, last: 'end' },
      called: [],
      box: null,
    },
    rallies: [],
    games: [],
    games_won: [0, 0],
    next: { game: 1, server: 'a', box: 'right', box_free: true, points: [0, 0], set_choice: false, opening: '' },
    next_key: 1,
    faults: [],
    clashes: [],
    span_clashes: [],
    winner: null,
    over_words: '',
    log: [],
    parts: [],
    proposed: [],
    proxy_words: '',
    lead_s: 1,
    ...more,
  });
}

/** A rally that the server knows. @param {Partial<Rally>} [more] @returns {Rally} */
export function rallyOf(more = {}) {
  return { ...newRally(sheetOf(), 'r1', []), before: [0, 0], after: [0, 0], ...more };
}

let made = 0;

/**
 * @template {import('../../src/goodlength/web/static/js/lib/server/message-types.js').EntryKind} Kind
 * @param {string} rally @param {Kind} what
 * @param {import('../../src/goodlength/web/static/js/lib/server/message-types.js').EntryValues[Kind]} value
 * @param {{replaces?: string}} [more] @returns {Entry}
 */
export function entryOf(rally, what, value, more = {}) {
  made += 1;
  return /** @type {Entry} */ ({ id: `e${made}`, match: 'm1', observer: 'coach/t1', at_utc: '2026-03-07T18:30:00.000Z', rally, what, value, replaces: null, ...more });
}
