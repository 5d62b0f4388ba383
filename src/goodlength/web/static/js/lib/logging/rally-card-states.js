// @ts-check
/* What the rally card shows in each state of the page. */

import { el } from '../page/dom.js';
import { fillNames } from './question-flow.js';
import { sentence } from './rally-sentence.js';
import { clockWords } from '../page/time-and-score-format.js';

/** @typedef {import('./logging-commands.js').RecordCommands} RecordCommands @typedef {import('./rally-card.js').CardView} CardView */
/** @typedef {import('./rally-card.js').Act} Act @typedef {import('./rally-card.js').Answer} Answer */
/** @typedef {CardView & {byKey: Record<string, () => void>, enter: () => void}} ActiveCardView */

/** @param {RecordCommands} record @returns {ActiveCardView} */
export function cardView(record) {
  const make = { bulk: bulkView, missing: missingView, called: otherwise, 'called-to': toWhom, 'put-right': putRight, note: noteView, stop: stopView, 'stop-to': stopTo };
  if (record.mode !== 'ask') return ready(record, make[record.mode](record));
  const question = record.question;
  if (question !== null && !(record.isOver && !record.isListed && record.asking === null)) {
    return ready(record, question.free_words ? wordsView(record, question) : questionView(record, question));
  }
  return ready(record, calledView(record));
}

/** @param {RecordCommands} record @param {CardView & {enter?: () => void, keys?: Record<string, () => void>}} view @returns {ActiveCardView} */
function ready(record, view) {
  const byKey = { ...view.keys };
  view.answers?.forEach((answer) => {
    if (answer.key) byKey[answer.key] = answer.press;
  });
  return { ...view, byKey, enter: view.enter ?? (() => record.turn('ask')) };
}

/** @param {RecordCommands} record @param {import('../server/message-types.js').EntryKind} what */
const opens = (record, what) => () => record.reopen(what);

/** @param {RecordCommands} record */
function pieces(record) {
  const unwatched = record.rally.unwatched ? [{ words: ' Taken unwatched, as proposed.' }] : [];
  const doubtful = record.detectedInHand?.doubtful ? [{ words: ' Doubtful: it may be no rally.' }] : [];
  return [...sentencePieces(record), ...unwatched, ...doubtful];
}

/** @param {RecordCommands} record */
function sentencePieces(record) {
  return sentence(record.sheet, record.rally, record.pathAnswers).map((piece) => ({
    words: piece.words,
    proposed: piece.proposed,
    press: piece.what && opens(record, piece.what),
    open: piece.what !== undefined && piece.what === record.asking,
  }));
}

/** @param {RecordCommands} record @returns {Act} */
const back = (record) => ({ words: 'step back', key: 'Backspace', press: () => record.stepBack() });

/** @param {RecordCommands} record @returns {Act[]} */
const cancel = (record) => [{ words: 'cancel', key: 'Enter', press: () => record.turn('ask') }, back(record)];

/** @param {RecordCommands} record @param {import('./question-flow.js').Question} question */
function questionView(record, question) {
  const { sheet } = record;
  const rally = record.rally;
  const list = question.answers;
  const inGrid = list.filter((answer) => !isAside(answer, list));
  const asides = list.filter((answer) => isAside(answer, list));
  /** @param {import('../server/message-types.js').AnswerChoice} answer */
  const press = (answer) => () => record.answer(answer.what, answer.value);
  const path = record.pathAnswer(question.id);
  const proposed = record.proposedTo(question.id);
  const mark = path ? `proposed from the ball’s path, ${Math.round(100 * path.chance)}%` : 'proposed by the draft';
  const skip = () => record.answer(question.id, null);
  const enter = proposed === undefined ? skip : () => record.takeProposed();
  return {
    pieces: pieces(record),
    count: record.bulk.countWords || record.countWords,
    ask: fillNames(question.ask, sheet, rally),
    text: question.id === 'ending' ? record.endedWords : '',
    answers: inGrid.map((answer) => ({
      ...short(fillNames(answer.words, sheet, rally)),
      ...(proposed !== undefined && answer.what === question.id && answer.value === proposed ? { proposed: mark } : {}),
      key: answer.key ?? '',
      press: press(answer),
      given: rally.answers[answer.what] === answer.value,
    })),
    keys: Object.fromEntries(asides.map((answer) => [answer.key, press(answer)])),
    hints: [
      ...asides.map((answer) => ({ words: aside(answer.words), key: answer.key ?? '', press: press(answer) })),
      { words: proposed === undefined ? 'skip' : 'accept', key: 'Enter', press: enter },
      ...(record.mayBeNone ? [{ words: 'no rally', key: 'X', press: () => record.noRally() }] : []),
      ...(path ? [{ words: 'skip', press: skip }] : []),
      back(record),
    ],
    enter,
  };
}

/** An answer on key 9 that is not the ninth stands beside the question: answers keep two even columns. */
function isAside(/** @type {import('../server/message-types.js').AnswerChoice} */ answer, /** @type {import('../server/message-types.js').AnswerChoice[]} */ list) {
  return answer.key === '9' && list.length < 9 ? true : answer.key === '9' && answer.what === 'ending' && list.length > 8;
}

/** "Loose: something to attack" is read as one bold word and a hint. @param {string} words */
function short(words) {
  const [first, ...rest] = words.split(': ');
  return { words: first, proposed: rest.join(': ') };
}

/** An answer beside the question, in the fewest words. @param {string} words */
const aside = (words) => lower(words).replace(/^(it|that) was /, '');

/** @param {string} words */
const lower = (words) => words.charAt(0).toLowerCase() + words.slice(1);

/** @param {RecordCommands} record @param {import('./question-flow.js').Question} question */
function wordsView(record, question) {
  const field = /** @type {HTMLInputElement} */ (el('input', { type: 'text', class: 'input', 'aria-labelledby': 'question', 'data-focus': true }));
  return textView(record, question.ask, field, () => record.answer(question.id, field.value.trim() || null));
}

/** @param {RecordCommands} record */
function noteView(record) {
  const field = /** @type {HTMLTextAreaElement} */ (
    el('textarea', { class: 'note-text', 'aria-labelledby': 'question', 'data-focus': true, maxlength: 2000 })
  );
  field.value = record.rally.note;
  return textView(record, 'A note for this rally', field, () => record.note(field.value));
}

/** @param {RecordCommands} record @param {string} title @param {HTMLInputElement | HTMLTextAreaElement} field @param {() => void} keep */
function textView(record, title, field, keep) {
  field.addEventListener('keydown', (event) => {
    const { key, shiftKey } = /** @type {KeyboardEvent} */ (event);
    if (key === 'Escape') record.turn('ask');
    if (key !== 'Enter' || shiftKey) return;
    event.preventDefault();
    keep();
  });
  return {
    pieces: pieces(record),
    count: '',
    ask: title,
    hints: [
      { words: 'save', key: 'Enter', press: keep },
      { words: 'cancel', key: 'Esc', press: () => record.turn('ask') },
    ],
    body: field,
  };
}

/** Rallies that are sure in every answer: check ten of them, take the others. @param {RecordCommands} record @returns {CardView & {enter?: () => void}} */
function bulkView(record) {
  const { bulk } = record;
  const { state, sure, sample } = bulk.offer;
  const view = { pieces: [], count: '', ask: bulk.offer.ask, text: bulk.offer.text };
  const oneByOne = { words: 'Go through them one by one', key: '2', press: () => bulk.decline() };
  if (state === 'offered') return { ...view, answers: [{ words: 'Check ten of them', key: '1', press: () => void bulk.draw() }, oneByOne], hints: [back(record)] };
  if (state === 'ready') return { ...view, answers: [{ words: `Take ${sure.length === 1 ? 'it' : sure.length} unwatched`, key: '1', press: () => void bulk.takeAll() }, oneByOne], hints: [back(record)] };
  const findings = () => location.assign(`/matches/${record.matchId}/findings`);
  if (state === 'taken') return { ...view, answers: [{ words: 'Findings', key: '1', press: findings }, { words: 'Undo', key: '2', press: () => void bulk.undo() }], hints: [{ words: 'undo', key: 'Backspace', press: () => void bulk.undo() }], enter: findings };
  const { unanswered } = bulk;
  if (unanswered.length > 0) {
    const ask = `${unanswered.length} of ${sample.length} not checked: a question was skipped`;
    return { ...view, ask, answers: [{ words: 'Answer the first of them', key: '1', press: () => record.goTo(unanswered[0].key) }, oneByOne], hints: [back(record)] };
  }
  return { ...view, ask: `${sample.length} checked`, text: 'One moment.', hints: [back(record)] };
}

/** A pause in which a rally may be missing. @param {RecordCommands} record @returns {CardView & {enter?: () => void, keys?: Record<string, () => void>}} */
function missingView(record) {
  const { missing } = record;
  const { shown, questions } = missing;
  const none = () => missing.none();
  return {
    pieces: shown ? [{ words: `From ${clockWords(shown.start_us)} to ${clockWords(shown.end_us)}, ${questions.length > 1 ? 'the likeliest of ' + questions.length : 'the last one asked'}.` }] : [],
    count: '',
    ask: 'Was there a rally here?',
    text: shown?.text ?? '',
    answers: [
      { words: 'No rally', key: '1', press: none },
      { words: 'There was one', key: '2', press: () => missing.add() },
    ],
    hints: [{ words: 'play again', press: () => record.onOpen() }, { words: 'not now', key: 'Enter', press: () => missing.later() }, back(record)],
    enter: () => missing.later(),
  };
}

/** @param {RecordCommands} record */
function calledView(record) {
  const { sheet, rally } = record;
  const known = !rally.provisional && rally.complete && !record.pending.some((entry) => entry.rally === rally.key);
  const next = () => record.goOn();
  const over = record.isOver && record.isNewest && !record.rallies.some((one) => record.questionOf(one) !== null);
  const past = !record.isNewest;
  /** @type {Act[]} */
  const acts = [
    over
      ? { words: 'Findings', key: 'Enter', main: true, press: () => location.assign(`/matches/${record.matchId}/findings`) }
      : { words: past ? 'Go on' : 'Next rally', key: 'Enter', main: true, press: next },
    { words: 'Change an answer', key: 'Backspace', press: () => record.stepBack() },
    { words: 'Official call differed', key: 'C', press: () => record.turn('called') },
  ];
  if (past) {
    acts.push({ words: 'Add a missing rally after this', small: true, press: () => record.insertAfter() });
    acts.push({ words: 'Delete this rally', small: true, press: () => record.removeRally() });
  }
  const view = { pieces: pieces(record), count: '', acts, enter: acts[0].press };
  if (known && rally.certain && rally.call) return { ...view, call: rally.call, nextServe: past ? '' : nextServeWords(record) };
  if (known) return { ...view, waits: 'There is no score: the winner of a rally is missing. Carry on, or correct the score.' };
  if (over && rally.provisional) return { ...view, waits: sheet.over_words };
  return { ...view, waits: record.line.connected ? '' : 'The call will appear when the connection is back. Carry on.' };
}

/** What stands beside the call; the box is no part of it. @param {RecordCommands} record */
function nextServeWords(record) {
  const { sheet } = record;
  if (record.isOver) return sheet.over_words;
  const next = sheet.next;
  if (!record.isNewest || !next || !next.server) return '';
  if (next.box_free) return `${sheet.short[next.server]} serves next and chooses the box.`;
  return `Next serve: ${next.box} box.`;
}

/** @param {RecordCommands} record */
function otherwise(record) {
  const list = record.sheet.script.called;
  const inGrid = list.filter((one) => one.key !== '9');
  const asides = list.filter((one) => one.key === '9');
  /** @param {import('../server/message-types.js').CallChoice} choice */
  const press = (choice) => () => {
    if (choice.score) return record.turn('put-right');
    if (!choice.to) return record.called(choice.value);
    record.calling = choice;
    return record.turn('called-to');
  };
  return {
    pieces: pieces(record),
    count: '',
    ask: 'What was the official call?',
    answers: [
      ...inGrid.map((one) => ({ words: one.words, key: one.key, press: press(one) })),
      { words: 'Conduct, or a player retired', key: '8', press: () => record.turn('stop') },
    ],
    keys: Object.fromEntries(asides.map((one) => [one.key, press(one)])),
    hints: [
      ...asides.map((one) => ({ words: lower(one.words), key: one.key, press: press(one) })),
      ...cancel(record),
    ],
  };
}

/** @param {RecordCommands} record @param {string} ask @param {(side: 'a' | 'b') => void} say */
function whichPlayer(record, ask, say) {
  const answers = /** @type {const} */ (['a', 'b']).map((side, at) => ({
    words: record.sheet.names[side],
    key: String(at + 1),
    press: () => say(side),
  }));
  return { pieces: pieces(record), count: '', ask, answers, hints: cancel(record) };
}

/** @param {RecordCommands} record */
function toWhom(record) {
  if (record.calling === null) return otherwise(record);
  const { words, value } = record.calling;
  const ask = value.decision === 'no-let' ? 'No let: who won the rally?' : value.decision ? `${words} to which player?` : `${words}: whose ball was it?`;
  return whichPlayer(record, ask, (side) => record.called({ ...value, to: side }));
}

/** @param {RecordCommands} record */
function stopView(record) {
  /** @type {import('./logging-state.js').StopChoice[]} */
  const list = [
    { words: 'Conduct stroke', what: 'conduct', game: false },
    { words: 'Conduct game', what: 'conduct', game: true },
    { words: 'A player retired', what: 'retired', why: 'retired' },
    { words: 'A player was disqualified', what: 'retired', why: 'disqualified' },
  ];
  return {
    pieces: pieces(record),
    count: '',
    ask: 'What happened between the rallies?',
    answers: list.map((choice, at) => ({
      words: choice.words,
      key: String(at + 1),
      press: () => {
        record.stopping = choice;
        record.turn('stop-to');
      },
    })),
    hints: cancel(record),
  };
}

/** @param {RecordCommands} record */
function stopTo(record) {
  const { stopping } = record;
  if (stopping === null) return stopView(record);
  const ask = stopping.what === 'conduct' ? `${stopping.words}: given to which player?` : 'Which player?';
  return whichPlayer(record, ask, (side) => record.between(stopping, side));
}

/** The score put right in figures, before the rally that comes. @param {RecordCommands} record */
function putRight(record) {
  const { sheet } = record;
  const points = (record.isDown ? record.rally.after : record.rally.before) ?? sheet.next?.points ?? [0, 0];
  /** @param {'a' | 'b'} side @param {number} value */
  const figure = (side, value) =>
    el(
      'div',
      { class: 'field' },
      el('label', { for: `put-${side}` }, sheet.short[side]),
      el('input', { type: 'number', id: `put-${side}`, min: -30, max: 99, value, 'data-focus': side === 'a' }),
    );
  /** @param {string} id @param {string} label @param {[string, string][]} options */
  const choice = (id, label, options) =>
    el(
      'div',
      { class: 'field' },
      el('label', { for: id }, label),
      el('select', { id }, ...options.map(([value, words]) => el('option', { value }, words))),
    );
  const form = el(
    'form',
    { class: 'put' },
    figure('a', points[0]),
    figure('b', points[1]),
    choice('put-server', 'Serves next', [['', 'as it was'], ['a', sheet.short.a], ['b', sheet.short.b]]),
    choice('put-box', 'From the', [['', 'as it was'], ['right', 'right box'], ['left', 'left box']]),
    el('button', { type: 'submit', class: 'button' }, 'Correct the score'),
  );
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    const value = (/** @type {string} */ id) => /** @type {HTMLInputElement} */ (form.querySelector(`#${id}`)).value;
    const [server, box] = [value('put-server'), value('put-box')];
    record.putRight({
      points: [Number(value('put-a')), Number(value('put-b'))],
      ...(server === 'a' || server === 'b' ? { server } : {}),
      ...(box === 'right' || box === 'left' ? { box } : {}),
    });
  });
  const leave = () => record.turn('ask');
  form.addEventListener('keydown', (event) => /** @type {KeyboardEvent} */ (event).key === 'Escape' && leave());
  const hints = [
    { words: 'save', key: 'Enter', press: () => /** @type {HTMLFormElement} */ (form).requestSubmit() },
    { words: 'cancel', key: 'Esc', press: leave },
  ];
  return { pieces: pieces(record), count: '', ask: 'What is the score?', body: form, hints };
}
