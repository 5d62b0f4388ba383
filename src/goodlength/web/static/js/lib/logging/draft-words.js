// @ts-check
/* What the draft proposes of a rally, in words, with the true reason of a doubt. */

/** @typedef {import('../server/message-types.js').DraftRally} DraftRally */

/** @param {Pick<DraftRally, 'winner' | 'chance' | 'offered' | 'sound_doubtful' | 'told'>} rally @param {{a: string, b: string}} short */
export function proposedWords(rally, short) {
  const winner = rally.winner ? short[rally.winner] : 'no point';
  if (rally.told) return `${winner}, set by you`;
  if (rally.offered) return winner;
  const chance = Math.round(100 * rally.chance);
  if (!rally.sound_doubtful) return `${winner}, doubtful: ${Math.min(chance, 99)}%`;
  return chance > 99 ? `${winner}, if this is a rally: its sounds are doubtful` : `${winner}, ${chance}%; its sounds may be no rally`;
}
