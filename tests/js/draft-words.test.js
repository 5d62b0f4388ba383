/* What the draft proposes of a rally, in words. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { proposedWords } from '../../src/goodlength/web/static/js/lib/logging/draft-words.js';

const short = { a: 'Imogen', b: 'Petra' };
const rally = { winner: /** @type {'a' | 'b' | null} */ ('a'), chance: 0.62, offered: false, sound_doubtful: false, told: '' };

test('a doubtful winner has its chance', () => {
  assert.equal(proposedWords(rally, short), 'Imogen, doubtful: 62%');
  assert.equal(proposedWords({ ...rally, winner: null, chance: 0.9962 }, short), 'no point, doubtful: 99%');
});

test('a doubtful sound is named, never as a doubt at certainty', () => {
  assert.equal(proposedWords({ ...rally, chance: 0.9962, sound_doubtful: true }, short), 'Imogen, if this is a rally: its sounds are doubtful');
  assert.equal(proposedWords({ ...rally, sound_doubtful: true }, short), 'Imogen, 62%; its sounds may be no rally');
});

test('without a doubt the winner stands alone', () => {
  assert.equal(proposedWords({ ...rally, offered: true }, short), 'Imogen');
  assert.equal(proposedWords({ ...rally, told: 'a' }, short), 'Imogen, set by you');
});
