// @ts-check
/* What a measuring page says while there is no result: which marks are missing, that it measures, or that it failed. */

/** @typedef {'found' | 'too few' | 'failed' | 'measuring'} ResultState */

/**
 * Where the result of the marks on show stands. Marks that suffice and have no answer yet are being measured.
 * @param {{found: boolean, enough: boolean, failed: boolean}} marks @returns {ResultState}
 */
export function resultState({ found, enough, failed }) {
  if (found) return 'found';
  if (!enough) return 'too few';
  return failed ? 'failed' : 'measuring';
}

/** Two marks, one of them on the front wall, give the speed of a serve. @param {readonly {what: string}[]} marks */
export const serveIsMeasurable = (marks) => marks.length >= 2 && marks.some(({ what }) => what === 'front');

/** @param {ResultState} state @param {number} level  of the ranges, percent */
export function serveResultWords(state, level) {
  return {
    found: `${level}% ranges, allowing for click error, timing, ball and court.`,
    'too few': 'Nothing yet: two marks, one of them on the front wall, give a speed; a third says where it goes.',
    failed: 'These marks were not measured. The reason stands with the marks.',
    measuring: 'Measuring …',
  }[state];
}

/** Four marks on the floor, or any six, let the camera be calibrated. @param {readonly {floor: boolean}[]} marks */
export const cameraIsSolvable = (marks) => marks.length >= 6 || marks.filter(({ floor }) => floor).length >= 4;

/** @param {Exclude<ResultState, 'found'>} state @param {readonly {floor: boolean}[]} marks  those that are set */
export function cameraResultWords(state, marks) {
  if (state === 'measuring') return `Measuring … ${marks.length} marks set.`;
  if (state === 'failed') return 'These marks gave no calibration. The reason stands with the marks.';
  const floor = marks.filter((mark) => mark.floor).length;
  return `${marks.length} marks set, ${floor} of them on the floor. Set four on the floor for floor positions, or six with some on the walls for the whole court.`;
}
