// @ts-check
/* What the rally card shows in each state of the desk. */

import { el } from './dom.js';
import { named } from './flow.js';
import { sentence } from './sentence.js';

/** @typedef {import('./desk.js').Desk} Desk @typedef {import('./card.js').Face} Face */
/** @typedef {import('./card.js').Act} Act @typedef {import('./card.js').Answer} Answer */
/** @typedef {Face & {byKey: Record<string, () => void>, enter: () => void}} Ready */

/** @param {Desk} desk @returns {Ready} */
export function faceOf(desk) {
  const make = { called: otherwise, 'called-to': toWhom, 'put-right': putRight, note: noteFace, stop: stopFace, 'stop-to': stopTo };
  if (desk.mode !== 'ask') return ready(desk, make[desk.mode](desk));
  const question = desk.question;
  if (question !== null && !(desk.isOver && !desk.isListed && desk.asking === null)) {
    return ready(desk, question.free_words ? wordsFace(desk) : questionFace(desk, question));
  }
  return ready(desk, calledFace(desk));
}

/** @param {Desk} desk @param {Face & {enter?: () => void, keys?: Record<string, () => void>}} face @returns {Ready} */
function ready(desk, face) {
  const byKey = { ...face.keys };
  face.answers?.forEach((answer) => {
    if (answer.key) byKey[answer.key] = answer.press;
  });
  return { ...face, byKey, enter: face.enter ?? (() => desk.turn('ask')) };
}

/** @param {Desk} desk */
function pieces(desk) {
  return sentence(desk.sheet, desk.rally).map((piece) => ({
    words: piece.words,
    press: piece.what ? () => desk.reopen(piece.what ?? '') : undefined,
    open: piece.what !== undefined && piece.what === desk.asking,
  }));
}

/** @param {Desk} desk @returns {Act} */
const back = (desk) => ({ words: 'step back', key: 'Backspace', press: () => desk.stepBack() });

/** @param {Desk} desk @returns {Act[]} */
const cancel = (desk) => [{ words: 'leave it', key: 'Enter', press: () => desk.turn('ask') }, back(desk)];

/** @param {Desk} desk @param {import('./flow.js').Question} question */
function questionFace(desk, question) {
  const { sheet } = desk;
  const rally = desk.rally;
  const list = question.answers;
  const inGrid = list.filter((answer) => !isAside(answer, list));
  const asides = list.filter((answer) => isAside(answer, list));
  /** @param {import('./flow.js').Answer} answer */
  const press = (answer) => () => desk.answer(answer.what, answer.value);
  const skip = () => desk.answer(question.id, null);
  return {
    pieces: pieces(desk),
    count: desk.countWords,
    ask: named(question.ask, sheet, rally),
    answers: inGrid.map((answer) => ({
      ...short(named(answer.words, sheet, rally)),
      key: answer.key ?? '',
      press: press(answer),
      given: rally.answers[answer.what] === answer.value,
    })),
    keys: Object.fromEntries(asides.map((answer) => [answer.key, press(answer)])),
    hints: [
      ...asides.map((answer) => ({ words: aside(answer.words), key: answer.key ?? '', press: press(answer) })),
      { words: question.extra ? 'pass' : 'skip', key: 'Enter', press: skip },
      back(desk),
    ],
    enter: skip,
  };
}

/** An answer on key 9 that is not the ninth stands beside the question: answers keep two even columns. */
function isAside(/** @type {import('./flow.js').Answer} */ answer, /** @type {import('./flow.js').Answer[]} */ list) {
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

/** @param {Desk} desk */
function wordsFace(desk) {
  const field = /** @type {HTMLInputElement} */ (el('input', { type: 'text', class: 'input', 'aria-labelledby': 'question', 'data-focus': true }));
  return textFace(desk, desk.question?.ask ?? '', field, () => desk.answer(desk.question?.id ?? '', field.value.trim() || null));
}

/** @param {Desk} desk */
function noteFace(desk) {
  const field = /** @type {HTMLTextAreaElement} */ (
    el('textarea', { class: 'note-text', 'aria-labelledby': 'question', 'data-focus': true, maxlength: 2000 })
  );
  field.value = desk.rally.note;
  return textFace(desk, 'A note for this rally', field, () => desk.note(field.value));
}

/** @param {Desk} desk @param {string} title @param {HTMLInputElement | HTMLTextAreaElement} field @param {() => void} keep */
function textFace(desk, title, field, keep) {
  field.addEventListener('keydown', (event) => {
    const { key, shiftKey } = /** @type {KeyboardEvent} */ (event);
    if (key === 'Escape') desk.turn('ask');
    if (key !== 'Enter' || shiftKey) return;
    event.preventDefault();
    keep();
  });
  return {
    pieces: pieces(desk),
    count: '',
    ask: title,
    hints: [
      { words: 'keep', key: 'Enter', press: keep },
      { words: 'leave', key: 'Esc', press: () => desk.turn('ask') },
    ],
    body: field,
  };
}

/** @param {Desk} desk */
function calledFace(desk) {
  const { sheet, rally } = desk;
  const known = !rally.provisional && rally.complete && !desk.pending.some((entry) => entry.rally === rally.key);
  const next = () => desk.goOn();
  const over = desk.isOver && desk.isNewest && !desk.rallies.some((one) => desk.questionOf(one) !== null);
  const past = !desk.isNewest;
  /** @type {Act[]} */
  const acts = [
    over
      ? { words: 'Findings', key: 'Enter', main: true, press: () => location.assign(`/matches/${desk.matchId}/findings`) }
      : { words: past ? 'Go on' : 'Next rally', key: 'Enter', main: true, press: next },
    { words: 'Change an answer', key: 'Backspace', press: () => desk.stepBack() },
    { words: 'Called otherwise', key: 'C', press: () => desk.turn('called') },
  ];
  if (past) {
    acts.push({ words: 'A rally is missing after this one', small: true, press: () => desk.insertAfter() });
    acts.push({ words: 'Take this rally out', small: true, press: () => desk.removeRally() });
  }
  const face = { pieces: pieces(desk), count: '', acts, enter: acts[0].press };
  if (known && rally.certain && rally.call) return { ...face, call: rally.call, beside: past ? '' : beside(desk) };
  if (known) return { ...face, waits: 'The score cannot be called: who won a rally is not recorded. Go on, or put the score right.' };
  if (over && rally.provisional) return { ...face, waits: sheet.over_words };
  return { ...face, waits: desk.line.connected ? '' : 'The call comes with the connection. Go on as usual.' };
}

/** What stands beside the call; the box is no part of it. @param {Desk} desk */
function beside(desk) {
  const { sheet } = desk;
  if (desk.isOver) return sheet.over_words;
  const next = sheet.next;
  if (!desk.isNewest || !next || !next.server) return '';
  if (next.box_free) return `${sheet.short[next.server]} serves next and chooses the box.`;
  return `Next serve: ${next.box} box.`;
}

/** @param {Desk} desk */
function otherwise(desk) {
  const list = desk.sheet.script.called;
  const inGrid = list.filter((one) => one.key !== '9');
  const aside = list.filter((one) => one.key === '9');
  /** @param {any} one */
  const press = (one) => () => {
    if (one.score) return desk.turn('put-right');
    if (!one.to) return desk.called(one.value);
    desk.calling = one;
    return desk.turn('called-to');
  };
  return {
    pieces: pieces(desk),
    count: '',
    ask: 'What did the marker call?',
    answers: [
      ...inGrid.map((one) => ({ words: one.words, key: one.key, press: press(one) })),
      { words: 'Conduct, or a player stopped', key: '8', press: () => desk.turn('stop') },
    ],
    keys: Object.fromEntries(aside.map((one) => [one.key, press(one)])),
    hints: [
      ...aside.map((one) => ({ words: lower(one.words), key: one.key, press: press(one) })),
      ...cancel(desk),
    ],
  };
}

/** @param {Desk} desk @param {string} ask @param {(side: 'a' | 'b') => void} say */
function whichPlayer(desk, ask, say) {
  const answers = /** @type {const} */ (['a', 'b']).map((side, at) => ({
    words: desk.sheet.names[side],
    key: String(at + 1),
    press: () => say(side),
  }));
  return { pieces: pieces(desk), count: '', ask, answers, hints: cancel(desk) };
}

/** @param {Desk} desk */
function toWhom(desk) {
  const { words, value } = desk.calling;
  const ask = value.decision === 'no-let' ? 'No let: who won the rally?' : value.decision ? `${words} to whom?` : `${words}: whose ball was it?`;
  return whichPlayer(desk, ask, (side) => desk.called({ ...value, to: side }));
}

/** @param {Desk} desk */
function stopFace(desk) {
  const list = [
    { words: 'Conduct stroke', what: 'conduct', value: { game: false } },
    { words: 'Conduct game', what: 'conduct', value: { game: true } },
    { words: 'A player retired', what: 'retired', value: { why: 'retired' } },
    { words: 'A player was disqualified', what: 'retired', value: { why: 'disqualified' } },
  ];
  return {
    pieces: pieces(desk),
    count: '',
    ask: 'What happened between the rallies?',
    answers: list.map((one, at) => ({
      words: one.words,
      key: String(at + 1),
      press: () => {
        desk.calling = one;
        desk.turn('stop-to');
      },
    })),
    hints: cancel(desk),
  };
}

/** @param {Desk} desk */
function stopTo(desk) {
  const { words, what, value } = desk.calling;
  const ask = what === 'conduct' ? `${words}: given to whom?` : 'Which player?';
  return whichPlayer(desk, ask, (side) =>
    desk.between(what, what === 'conduct' ? { to: side, ...value } : { side, ...value }),
  );
}

/** The score put right in figures, before the rally that comes. @param {Desk} desk */
function putRight(desk) {
  const { sheet } = desk;
  const points = (desk.isDown ? desk.rally.after : desk.rally.before) ?? sheet.next?.points ?? [0, 0];
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
    el('button', { type: 'submit', class: 'button' }, 'Put it right'),
  );
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    const value = (/** @type {string} */ id) => /** @type {HTMLInputElement} */ (form.querySelector(`#${id}`)).value;
    /** @type {Record<string, any>} */
    const called = { points: [Number(value('put-a')), Number(value('put-b'))] };
    if (value('put-server')) called.server = value('put-server');
    if (value('put-box')) called.box = value('put-box');
    desk.putRight(called);
  });
  const leave = () => desk.turn('ask');
  form.addEventListener('keydown', (event) => /** @type {KeyboardEvent} */ (event).key === 'Escape' && leave());
  const hints = [
    { words: 'keep', key: 'Enter', press: () => /** @type {HTMLFormElement} */ (form).requestSubmit() },
    { words: 'leave it', key: 'Esc', press: leave },
  ];
  return { pieces: pieces(desk), count: '', ask: 'What is the score?', body: form, hints };
}
