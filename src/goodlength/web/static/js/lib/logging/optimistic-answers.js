// @ts-check
/* What the page knows of the match: what the server said last, with the answers on their way laid over it.
   The score, the server and the call are the server's alone; where they are not known yet, they are null. */

/** @typedef {import('../server/message-types.js').Sheet} Sheet @typedef {import('../server/message-types.js').Rally} Rally */
/**
 * A rally as it is shown: what is not known yet is null, and one that the server has not seen is provisional.
 * @typedef {Omit<Rally, 'before' | 'after' | 'drafted' | 'to_confirm'> & {before: [number, number] | null, after: [number, number] | null,
 *   drafted: import('../server/message-types.js').EntryKind[], to_confirm: import('../server/message-types.js').EntryKind[],
 *   provisional?: boolean, removed?: boolean, server_later?: boolean}} ShownRally
 */
/** @typedef {import('../server/message-types.js').Entry} Entry @typedef {import('../server/message-types.js').Logged} Logged */

/** What ends the tab of an answer that went along with another: nobody was asked for it. */
export const ALONG = '-along';

/** Entries that stand between rallies or are about the match: they are no rally of their own. */
const NOT_RALLIES = new Set(['match', 'undo', 'conduct', 'retired']);

/**
 * @param {Sheet} sheet @param {Entry[]} pending oldest first
 * @returns {ShownRally[]} in the order played
 */
export function withPending(sheet, pending) {
  /** @type {ShownRally[]} */
  const rallies = sheet.rallies.map((rally) => ({ ...rally, answers: { ...rally.answers }, ids: { ...rally.ids }, shots: [...rally.shots], drafted: [...(rally.drafted ?? [])], to_confirm: [...(rally.to_confirm ?? [])] }));
  const byKey = new Map(rallies.map((rally) => [rally.key, rally]));
  const undone = new Set(pending.filter((entry) => entry.what === 'undo').map((entry) => entry.replaces));
  const logged = new Map(sheet.log.map((entry) => [entry.id, entry]));
  const overruled = new Map(sheet.log.flatMap((entry) => (entry.overruled ? [[entry.overruled.undo, entry.overruled]] : [])));
  for (const entry of pending) {
    const back = overruled.get(entry.replaces ?? '');
    if (entry.what === 'undo' && back) giveBack(byKey.get(entry.rally), back);
    else if (entry.what === 'undo' && !undone.has(entry.id)) takeBack(byKey, logged.get(entry.replaces ?? '') ?? standing(byKey.get(entry.rally), entry.replaces));
    if (undone.has(entry.id) || NOT_RALLIES.has(entry.what) || entry.what === 'place') continue;
    let rally = byKey.get(entry.rally);
    if (!rally) {
      rally = newRally(sheet, entry.rally, rallies);
      rallies.push(rally);
      byKey.set(entry.rally, rally);
    }
    apply(rally, entry);
    rally.ids[entry.what] = entry.id;
  }
  return rallies.filter((rally) => !rally.removed && !isOnlyShown(rally));
}

/** Whether all that is known of a rally is what was proposed: nobody has said anything. @param {ShownRally} rally */
function isOnlyShown(rally) {
  return Boolean(rally.provisional && rally.ids.proposed) && Object.keys(rally.ids).length === 1;
}

/** An answer older than the log that the page has. @param {ShownRally | undefined} rally @param {string | null} id @returns {Logged | undefined} */
function standing(rally, id) {
  const what = /** @type {import('../server/message-types.js').EntryKind | undefined} */ (Object.entries(rally?.ids ?? {}).find(([, one]) => one === id)?.[0]);
  return rally && id && what ? { id, rally: rally.key, what, how: null } : undefined;
}

/** @param {Map<string, ShownRally>} byKey @param {Logged | undefined} logged */
function takeBack(byKey, logged) {
  const rally = logged && byKey.get(logged.rally);
  if (!rally || !logged) return;
  delete rally.answers[logged.what];
  settled(rally, logged.what);
  if (logged.what === 'proposed') {
    delete rally.ids.proposed; // an answer to come is kept with what it was shown
    return;
  }
  rally.complete = false;
  if (logged.what === 'span') rally.end_us = null;
  if (logged.what === 'shot') rally.shots.pop();
}

/** The winner of the draft stands again. @param {ShownRally | undefined} rally @param {import('../server/message-types.js').Overruled} back */
function giveBack(rally, back) {
  if (!rally) return;
  rally.answers.winner = back.winner;
  rally.ids.winner = back.id;
  rally.drafted.push('winner');
  if (back.to_confirm) rally.to_confirm.push('winner');
}

/** @param {ShownRally} rally @param {Entry} entry */
function apply(rally, entry) {
  if (entry.what === 'span') {
    [rally.start_us, rally.end_us, rally.span_how] = [entry.value?.start_us ?? null, entry.value?.end_us ?? null, entry.value?.how ?? null];
  } else if (entry.what === 'note') rally.note = entry.value ?? '';
  else if (entry.what === 'keep') rally.keep = Boolean(entry.value);
  else if (entry.what === 'shot' && entry.value !== null) addShot(rally, entry.value);
  else if (entry.what === 'remove') rally.removed = true;
  else if (entry.what !== 'proposed') {
    Object.assign(rally.answers, { [entry.what]: entry.value });
    settled(rally, entry.what);
    if (entry.what === 'box') rally.box = entry.value;
    if (entry.what === 'server') rally.server = entry.value;
    if (entry.what === 'winner') rally.winner = entry.value;
    if (entry.what === 'ending') rally.let = entry.value === 'let';
  }
}

/** A person said it, or took it back: it is no longer the draft's. @param {ShownRally} rally @param {import('../server/message-types.js').EntryKind} what */
function settled(rally, what) {
  rally.drafted = rally.drafted.filter((one) => one !== what);
  rally.to_confirm = rally.to_confirm.filter((one) => one !== what);
}

/** @param {ShownRally} rally @param {import('../server/message-types.js').ShotValue | import('../server/message-types.js').ShotCount} value */
function addShot(rally, value) {
  if ('count' in value) rally.shots_in_all = value.count;
  else rally.shots = [...rally.shots.filter((shot) => shot.n !== value.n), { n: value.n, by: value.by, stroke: value.stroke ?? null }];
}

/**
 * A rally the server has not seen: it knows its server and score only when it follows what the server knows.
 * @param {Sheet} sheet @param {string} key @param {ShownRally[]} before
 * @returns {ShownRally}
 */
export function newRally(sheet, key, before) {
  const next = sheet.next;
  const last = before[before.length - 1];
  const sure = next !== null && !before.some((rally) => rally.provisional) && (last?.complete ?? true);
  return {
    key,
    n: (last?.n ?? 0) + 1,
    game: sure ? next.game : (last?.game ?? 1),
    n_in_game: 0,
    server: sure ? next.server : null,
    box: sure ? next.box : null,
    box_free: sure ? next.box_free : false,
    before: sure ? next.points : null,
    after: null,
    winner: null,
    let: false,
    hand_out: Boolean(sure && last && last.game === next.game && next.server && last.server !== next.server),
    call: '',
    ends_game: null,
    certain: sure,
    complete: false,
    answers: {},
    start_us: null,
    end_us: null,
    span_how: null,
    note: '',
    keep: false,
    measured: '',
    provisional: true,
    server_later: !sure,
    shots: [],
    shots_in_all: null,
    ids: {},
    drafted: [],
    to_confirm: [],
  };
}

/**
 * Everything said and not taken back, oldest first.
 * @param {Sheet} sheet @param {Entry[]} pending
 * @returns {Logged[]}
 */
export function answerLog(sheet, pending) {
  const undone = new Set(pending.filter((entry) => entry.what === 'undo').map((entry) => entry.replaces));
  const mine = pending
    .filter((entry) => entry.what !== 'undo')
    .map((entry) => ({ id: entry.id, rally: entry.rally, what: entry.what, how: entry.what === 'span' ? (entry.value?.how ?? null) : entry.observer.endsWith(ALONG) ? 'along' : null }));
  return [...sheet.log, ...mine].filter((entry) => !undone.has(entry.id));
}

/**
 * The key of the next rally: "r1", "r2", ... It follows from what was said, so that two tabs that both go on
 * give the same rally the same key, and their answers meet.
 * @param {Sheet} sheet @param {Entry[]} pending
 */
export function nextKey(sheet, pending) {
  const numbers = pending.map((entry) => /^r(\d+)$/.exec(entry.rally)?.[1]).map((digits) => Number(digits ?? 0));
  return `r${Math.max(sheet.next_key, ...numbers.map((n) => n + 1))}`;
}
