// @ts-check
/* The sheet brought up to date from what the server says has changed since the version held here. */

/** @typedef {import('../server/message-types.js').Sheet} Sheet @typedef {import('../server/message-types.js').SheetChanges} SheetChanges */

/**
 * The sheet with the changes; null where they follow another version than the one held, and the whole sheet is
 * needed. The sheet given stays as it is.
 * @param {Sheet} sheet @param {SheetChanges} changes @returns {Sheet | null}
 */
export function withChanges(sheet, changes) {
  if (sheet.version === undefined || sheet.version !== changes.since) return null;
  const rows = new Map(sheet.rallies.map((rally) => [rally.key, rally]));
  for (const rally of changes.rallies) rows.set(rally.key, rally);
  if (changes.scores && !takeScores(rows, changes.scores)) return null;
  const keys = changes.order ?? [...rows.keys()];
  const rallies = keys.map((key) => rows.get(key));
  if (rallies.includes(undefined)) return null;
  return { ...sheet, ...changes.parts, rallies: /** @type {Sheet['rallies']} */ (rallies), version: changes.version };
}

/**
 * Lay the scores over the rows; whether each of them is here.
 * @param {Map<string, import('../server/message-types.js').Rally>} rows @param {import('../server/message-types.js').ScoreColumns} scores
 */
function takeScores(rows, { keys, same, each }) {
  const columns = Object.entries(each);
  for (const [at, key] of keys.entries()) {
    const row = rows.get(key);
    if (!row) return false;
    rows.set(key, { ...row, ...same, ...Object.fromEntries(columns.map(([field, values]) => [field, values[at]])) });
  }
  return true;
}

/** Whether a sheet is older than another of the same run of the server. @param {Sheet} sheet @param {Sheet} current */
export function isOlder(sheet, current) {
  const [[run, number], [currentRun, currentNumber]] = [sheet, current].map((known) => (known.version ?? '').split('.'));
  return run === currentRun && Number(number) < Number(currentNumber);
}
