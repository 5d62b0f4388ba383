// @ts-check
/* A rally as a sentence that grows with each answer; each answer in it can be pressed to go back to it. */

import { score } from '../page/time-and-score-format.js';

/** @typedef {import('../server/message-types.js').Sheet} Sheet @typedef {import('./optimistic-answers.js').ShownRally} ShownRally */
/** @typedef {ShownRally['answers']} Answers */
/** @typedef {import('../server/message-types.js').EntryKind} EntryKind */
/** @typedef {{words: string, what?: EntryKind, proposed?: boolean}} Piece  with `what`, it can be pressed; `proposed`: nobody has said it yet */
/** @typedef {import('../server/message-types.js').PathProposals['rallies'][number]['answers']} FromPath */

const BOX = /** @type {const} */ ({ right: 'right box', left: 'left box' });

/** @type {Record<string, string[]>} a kind inside a sentence; one the coach named is quoted as it stands */
const KINDS = {
  lob: ['Lob', 'a lob'],
  'mid-height': ['Mid-height', 'a mid-height serve'],
  hard: ['Hard', 'a hard serve'],
  'body-feet': ['Body, bouncing at the feet', 'a body serve at the feet', 'Body, feet'],
  'body-nick': ['Body, for the back-wall nick', 'a body serve for the back-wall nick', 'Body (nick)'],
  other: ['Other', 'some other serve'],
};
/** @type {Record<string, string>} */
const HOW = {
  volleyed: 'volleyed it',
  'after-the-side-wall': 'took it after the side wall',
  'after-the-bounce': 'took it after the bounce',
  'off-the-back-wall': 'took it off the back wall',
  'not-made': 'missed the return',
};
/** @type {Record<string, string>} */
const LEFT = { loose: 'left it loose', tight: 'returned it tight', attacked: 'attacked it' };
/** @type {Record<string, string>} */
const ENDING = {
  winner: 'with a winner',
  'forced-error': 'on a forced error',
  'unforced-error': 'on an unforced error',
  stroke: 'by a stroke',
  'no-let': 'by a no let',
  'service-fault': 'on a service fault',
  conduct: 'by a conduct stroke',
};
/** @type {Record<string, string>} */
const STROKE = { drive: 'drive', 'cross-court': 'cross-court', boast: 'boast', drop: 'drop', lob: 'lob', kill: 'kill', other: 'shot' };
/** Answers that stand in the sentence by themselves. */
/** @type {[EntryKind, string][]} */
const EXTRA = [
  ['ending.place', 'where it ended'],
  ['ending.why', 'choice or execution'],
  ['return.to', 'where the return went'],
  ['return.stroke', 'the return'],
  ['serve.receiver-place', 'the receiver’s place'],
];

/**
 * The sentence so far.
 * @param {Sheet} sheet @param {ShownRally} rally @param {FromPath} [fromPath] what the ball's path proposes: it stands in the sentence, marked
 * @returns {Piece[]}
 */
export function sentence(sheet, rally, fromPath = []) {
  const cut = rally.answers.ending === 'service-fault' || rally.answers.ending === 'let'; // nothing more is asked then
  const open = cut ? [] : fromPath.filter((one) => !(one.what in rally.answers));
  const answers = /** @type {Answers} */ ({ ...rally.answers, ...Object.fromEntries(open.map((one) => [one.what, one.value])) });
  const pieces = piecesOf(sheet, rally, answers);
  return pieces.map((piece) => (open.some((one) => one.what === piece.what) ? { ...piece, proposed: true } : piece));
}

/** @param {Sheet} sheet @param {ShownRally} rally @param {Answers} answers @returns {Piece[]} */
function piecesOf(sheet, rally, answers) {
  const { short } = sheet;
  const server = rally.server ? short[rally.server] : null;
  const receiver = rally.server ? short[rally.server === 'a' ? 'b' : 'a'] : 'The receiver';
  /** @type {Piece[]} */
  const pieces = server
    ? [{ words: `${server} served`, what: 'server' }]
    : [{ words: 'Rally ' + rally.n }];
  const kind = answers['serve.kind'];
  if (kind !== undefined) {
    const words = kind === null ? 'a serve (kind not logged)' : kindWords(sheet, kind);
    pieces.push({ words: server ? ' ' : ': served ' }, { words, what: 'serve.kind' });
  }
  if (rally.box) pieces.push({ words: ' from the ' }, { words: BOX[rally.box], what: 'box' });
  if (rally.before && rally.server) {
    // as the marker says it: the server's score first
    const [a, b] = rally.before;
    pieces.push({ words: ', ' }, { words: score(rally.server === 'a' ? [a, b] : [b, a]), what: 'called' });
  }
  const clauses = [...returned(answers, receiver), ...ended(sheet, answers)];
  const more = extras(answers);
  const open = more.length > 0 && !clauses.at(-1)?.words.endsWith('.');
  const rest = [...clauses, ...(open ? [{ words: '.' }] : []), ...more];
  if (rest.length === 0) pieces.push({ words: ' …' });
  return [...pieces, ...rest];
}

/** @param {Answers} answers @param {string} receiver @returns {Piece[]} */
function returned(answers, receiver) {
  const how = answers['return.how'];
  const left = answers['return.left'];
  /** @type {Piece[]} */
  const pieces = [];
  if (how !== undefined) {
    pieces.push({ words: `. ${receiver} ` }, { words: how === null ? 'took it (how is not logged)' : HOW[how], what: 'return.how' });
  }
  if (left !== undefined && left !== 'not-made') {
    const words = left === null ? 'how good it was is not logged' : LEFT[left];
    pieces.push({ words: pieces.length ? (left === null ? '; ' : ' and ') : `. ${receiver} ` }, { words, what: 'return.left' });
  }
  return pieces;
}

/** @param {Sheet} sheet @param {Answers} answers @returns {Piece[]} */
function ended(sheet, answers) {
  const { ending, winner } = answers;
  /** @type {Piece[]} */
  const pieces = [];
  if (ending === 'let') return [{ words: '. ' }, { words: 'Let, played again', what: 'ending' }, { words: '.' }];
  if (winner !== undefined) {
    const words = winner === null ? 'Who won is not logged' : `${sheet.short[winner]} won`;
    pieces.push({ words: winner === null ? '. ' : '; ' }, { words, what: 'winner' });
  }
  if (ending !== undefined) {
    const words = ending === null ? '(ending not logged)' : endingWords(answers, ending);
    pieces.push({ words: ' ' }, { words, what: 'ending' }, { words: '.' });
  }
  return pieces;
}

/** @param {Answers} answers @param {string} ending */
function endingWords(answers, ending) {
  const stroke = answers['ending.stroke'];
  const volley = answers['ending.volley'] ? 'volley ' : '';
  if (ending === 'winner' && stroke) return `with a ${volley}${STROKE[stroke] ?? stroke}`;
  const words = ENDING[ending] ?? ending;
  return stroke ? `${words}, a ${volley}${STROKE[stroke] ?? stroke}` : words;
}

/** @param {Answers} answers @returns {Piece[]} */
function extras(answers) {
  /** @type {Piece[]} */
  const pieces = [];
  for (const [what, name] of EXTRA) {
    const value = answers[what];
    if (value === undefined || value === null) continue;
    const words = `${name}: ${value === true ? 'yes' : spaced(String(value))}`;
    const first = pieces.length === 0;
    pieces.push({ words: first ? ' ' : '; ' }, { words: first ? words.charAt(0).toUpperCase() + words.slice(1) : words, what });
  }
  if (pieces.length > 0) pieces.push({ words: '.' });
  return pieces;
}

/** A value in words; "cross-court" keeps its hyphen. @param {string} value */
const spaced = (value) => value.replaceAll('-', ' ').replaceAll('cross court', 'cross-court');

/** @param {Sheet} sheet @param {string} id */
function kindWords(sheet, id) {
  const words = sheet.kind_words[id] ?? id;
  const known = KINDS[id];
  return known && known[0] === words ? known[1] : `“${words}”`;
}

/**
 * What a line of the marker's sheet says about its rally: as record/rally_sentences.py, at once.
 * @param {Sheet} sheet @param {ShownRally} rally @param {boolean} [brief] the kind in its short form, for a narrow column
 */
export function lineWords(sheet, rally, brief = false) {
  const answers = rally.answers;
  if (rally.let) return 'let, played again';
  const full = answers['serve.kind'] ? (sheet.kind_words[answers['serve.kind']] ?? answers['serve.kind']) : '';
  const known = KINDS[answers['serve.kind'] ?? ''];
  const kind = brief && known?.[0] === full ? (known[2] ?? full) : full;
  if (answers.ending === 'service-fault') return kind ? `${kind}, fault` : 'Fault';
  const left = answers['return.how'] === 'not-made' ? 'missed' : (answers['return.left'] ?? '').replace('-', ' ');
  /** @type {Record<string, string>} */
  const decisions = { stroke: 'stroke', 'no-let': 'no let' };
  const decided = decisions[answers.ending ?? ''] ?? '';
  const words = [kind, left, decided].filter(Boolean);
  const joined = words.join(', ');
  const unwatched = rally.unwatched && !brief ? ' (taken unwatched)' : '';
  return (joined.charAt(0).toUpperCase() + joined.slice(1) + unwatched + (rally.certain ? '' : ' ?')).trim();
}
