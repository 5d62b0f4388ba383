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
  const keys = changes.order ?? [...rows.keys()];
  const rallies = keys.map((key) => rows.get(key));
  if (rallies.includes(undefined)) return null;
  return { ...sheet, ...changes.parts, rallies: /** @type {Sheet['rallies']} */ (rallies), version: changes.version };
}

/** Whether a sheet is older than another of the same run of the server. @param {Sheet} sheet @param {Sheet} current */
export function isOlder(sheet, current) {
  const [[run, number], [currentRun, currentNumber]] = [sheet, current].map((known) => (known.version ?? '').split('.'));
  return run === currentRun && Number(number) < Number(currentNumber);
}
