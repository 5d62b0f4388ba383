// @ts-check
/* Walking the script of questions: which one is open, and how it reads. The rules are the server's data
   (goodlength.record.rally_questions); this file only follows them, so that no question waits for the server. */

/**
 * @typedef {import('../server/message-types.js').Script} Script @typedef {import('../server/message-types.js').Question} Question
 * @typedef {import('../server/message-types.js').AnswerChoice} AnswerChoice
 * @typedef {import('./optimistic-answers.js').ShownRally} ShownRally
 */

/** @param {Question} question @param {ShownRally['answers']} answers */
function isAsked(question, answers) {
  return !question.unless.some((rule) => {
    const given = answers[rule.what];
    if (given === undefined || given === null) return false;
    if (typeof given === 'object') return rule.having.some((part) => (/** @type {Record<string, unknown>} */ (given)[part] ?? null) !== null);
    return rule.values.includes(given);
  });
}

/** @param {Question} question @param {ShownRally} rally @param {boolean} setChoice */
function fits(question, rally, setChoice) {
  if (question.when === 'server-unknown') return rally.server === null && !rally.server_later;
  if (question.when === 'set-choice') return setChoice;
  return true;
}

/** @param {Question} question @param {ShownRally} rally */
function isDone(question, rally) {
  if (question.id === 'serve.kind' && question.extra && 'ending' in rally.answers) return true; // a rally that was logged without it
  if (question.repeats) return rally.answers[question.id] === null || rally.shots_in_all !== null;
  return question.id in rally.answers && !rally.to_confirm.includes(question.id);
}

/**
 * Every question of a rally that applies, answered or not.
 * @param {Script} script @param {ShownRally} rally @param {boolean} setChoice
 */
export function applicableQuestions(script, rally, setChoice) {
  return script.questions.filter(
    (question) => isAsked(question, rally.answers) && (fits(question, rally, setChoice) || isDone(question, rally)),
  );
}

/**
 * The question to ask now; null when the rally is down.
 * @param {Script} script @param {ShownRally} rally @param {boolean} setChoice
 * @param {string[]} [passed] questions whose answer goes along with another
 * @returns {Question | null}
 */
export function openQuestion(script, rally, setChoice, passed = []) {
  return applicableQuestions(script, rally, setChoice).find((question) => !isDone(question, rally) && !passed.includes(question.id) && !script.along?.includes(question.id)) ?? null;
}

/** The number of the next shot to ask for. @param {Script} script @param {ShownRally} rally */
export function nextShot(script, rally) {
  return Math.max(script.shots.first - 1, ...rally.shots.map((shot) => shot.n)) + 1;
}

/** Who strikes a shot: the server the odd ones. @param {ShownRally} rally @param {number} n */
export function striker(rally, n) {
  if (!rally.server) return null;
  const other = rally.server === 'a' ? 'b' : 'a';
  return n % 2 === 1 ? rally.server : other;
}

/**
 * Put names into a question or an answer.
 * @param {string} words @param {import('../server/message-types.js').Sheet} sheet @param {ShownRally} rally
 */
export function fillNames(words, sheet, rally) {
  const n = nextShot(sheet.script, rally);
  const side = striker(rally, n);
  const { short } = sheet;
  /** @type {Record<string, import('../server/message-types.js').Side>} */
  const other = { a: 'b', b: 'a' };
  const { winner } = rally.answers;
  /** @type {Record<string, string>} */
  const names = {
    a: short.a,
    b: short.b,
    server: rally.server ? short[rally.server] : 'the server',
    receiver: rally.server ? short[other[rally.server]] : 'the receiver',
    winner: winner ? short[winner] : 'the winner',
    loser: winner ? short[other[winner]] : 'the loser',
    n: String(n),
    striker: side ? short[side] : 'the striker',
  };
  const text = words.replace(/\{(\w+)\}/g, (whole, name) => names[name] ?? whole);
  return text.charAt(0).toUpperCase() + text.slice(1);
}
