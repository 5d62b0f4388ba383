// @ts-check
/* Which rallies of a list fit what is asked for. No element of a page here. */

/** @typedef {Record<string, string>} Row  an answer by its name; '' where it was not given */

/**
 * The answers there are to choose from, in the order met; none where all rows say the same.
 * @param {Row[]} rows @param {string} name @returns {string[]}
 */
export function choicesOf(rows, name) {
  const found = [...new Set(rows.map((row) => row[name] ?? '').filter(Boolean))];
  return found.length > 1 || rows.some((row) => !row[name]) ? found : [];
}

/** Whether a row fits everything asked for. @param {Row} row @param {Row} wanted '' for anything */
export function fits(row, wanted) {
  return Object.entries(wanted).every(([name, value]) => !value || row[name] === value);
}
