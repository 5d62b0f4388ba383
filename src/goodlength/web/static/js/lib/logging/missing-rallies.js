// @ts-check
/* Pauses in which a rally may be missing: asked about once everything else on the sheet is answered.
   Where and why, the server says; an answer is a deleted span over the pause, or a rally in it. */

import { ask, newId } from '../server/json-requests.js';
import { clockWords } from '../page/time-and-score-format.js';
import { LEAD_US } from './logging-state.js';
import { nextKey } from './optimistic-answers.js';
import { shownUntil } from './rally-video-sync.js';

/** @typedef {import('../server/message-types.js').MissingRallyQuestions['questions'][number]} MissingRally */

/** What a pause without a rally is kept under: nothing ever stood there. */
export const PAUSE_KEY = 'pause-';

/** Said to keys that are for a rally: the one behind the card is not meant. */
export const PAUSE_FIRST = 'Answer the pause first.';

export class MissingRallies {
  /** @param {import('./logging-commands.js').RecordCommands} record */
  constructor(record) {
    this.record = record;
    /** @type {MissingRally[]} */
    this.questions = [];
    /** @type {MissingRally | null} the pause on the card */
    this.shown = null;
    /** @type {Partial<Pick<MissingRally, 'likely_start_us' | 'likely_end_us'>>} times set by the coach, of the rally that may be added */
    this.marked = {};
    this.left = false; // the coach does not want to be asked now
    this.asked = 0;
    this.reading = false;
  }

  /** Whether the sheet is answered, so that what it lacks can be worked out. */
  get isDue() {
    const { record } = this;
    const isThrough = record.isOver || record.allDetectedAnswered;
    return !record.live && isThrough && !record.bulk.isOffered && record.rallies.length > 1 && !record.rallies.some((rally) => record.questionOf(rally) !== null);
  }

  /** Read what is to be asked, where everything else is answered. */
  async read() {
    const { record } = this;
    if (!this.isDue) {
      this.asked += 1; // an answer on its way comes too late
      this.reading = false;
      if (this.questions.length > 0 || this.shown) this.take([]);
      return;
    }
    const turn = ++this.asked;
    this.reading = true;
    record.onChange();
    const found = /** @type {import('../server/message-types.js').MissingRallyQuestions | null} */ (await ask(record.path('missing')).catch(() => null));
    if (turn !== this.asked) return;
    this.reading = false;
    this.take(found?.questions ?? this.questions);
  }

  /** @param {MissingRally[]} questions */
  take(questions) {
    const { record } = this;
    this.reading = false;
    this.questions = questions;
    const isWaiting = record.mode === 'bulk' || (record.mode === 'ask' && record.asking === null && record.isNewest && (record.question === null || !record.isListed));
    if (record.mode === 'missing') {
      const same = questions.find((question) => question.after === this.shown?.after);
      if (same) this.shown = { ...same, ...this.marked };
      else return this.next();
    } else if (isWaiting && this.isDue && !this.left && questions.length > 0) return this.next();
    return record.onChange();
  }

  /** The likeliest pause, or what stands after them. */
  next() {
    const { record } = this;
    if (this.questions.length > 0) return this.open(this.questions[0]);
    this.shown = null;
    return record.turn(record.bulk.offer.state === 'taken' ? 'bulk' : 'ask');
  }

  /** Put a pause on the card, and play it. @param {MissingRally} question */
  open(question) {
    this.marked = {};
    this.shown = question;
    this.left = false;
    this.record.shownGame = null;
    this.record.turn('missing');
    this.record.onOpen();
  }

  /** Ask nothing of it now; it stays in the list. */
  later() {
    this.left = true;
    this.shown = null;
    this.record.turn(this.record.bulk.offer.state === 'taken' ? 'bulk' : 'ask');
  }

  /** Set the start or the end of the rally that may be added. @param {'start_us' | 'end_us'} which @param {number} now */
  mark(which, now) {
    const { record, shown } = this;
    if (!shown) return;
    if (now < shown.start_us || now > shown.end_us) return record.tell(`This is outside the pause. Move to a time from ${clockWords(shown.start_us)} to ${clockWords(shown.end_us)}.`);
    const start = which === 'start_us' ? now : shown.likely_start_us;
    let end = which === 'end_us' ? now : shown.likely_end_us;
    if (which === 'start_us' && end <= start) end = shown.end_us;
    if (end <= start) return record.tell('The rally cannot end before it starts. Move forward in the video first.');
    this.marked = { likely_start_us: start, likely_end_us: end };
    this.shown = { ...shown, ...this.marked };
    return record.tell(which === 'start_us' ? 'The rally starts here: press 2 to add it.' : 'The rally ends here: press 2 to add it.');
  }

  /** No rally in the part of the pause that is played: it is not asked about again. One step back undoes it. */
  none() {
    const { record, shown } = this;
    if (!shown) return;
    const key = `${PAUSE_KEY}${newId().slice(0, 8)}`;
    const offered = this.questions.find((question) => question.after === shown.after) ?? shown; // not the times set since
    const part = { start_us: offered.likely_start_us, end_us: offered.likely_end_us };
    const span = { start_us: Math.max(shown.start_us, part.start_us - LEAD_US), end_us: Math.min(shown.end_us, shownUntil(part)), how: /** @type {const} */ ('heard') };
    const entries = [record.entry('span', span, key), record.entry('remove', true, key)];
    record.presses.push({ key: record.openKey, to: record.openKey, ids: entries.map((entry) => entry.id) });
    record.send(entries);
    this.questions = this.questions.filter((question) => question.after !== shown.after);
    this.next();
    record.tell('No rally there. Step back to undo.');
  }

  /** There was a rally: it stands on the sheet with the time offered, and is answered like any other. */
  add() {
    const { record, shown } = this;
    if (!shown) return;
    const key = nextKey(record.sheet, record.pending);
    const span = { start_us: shown.likely_start_us, end_us: shown.likely_end_us, how: /** @type {const} */ ('marked') };
    const entries = [record.entry('place', { after: shown.after }, key), record.entry('span', span, key)];
    record.presses.push({ key: record.openKey, to: key, ids: entries.map((entry) => entry.id) });
    this.questions = this.questions.filter((question) => question.after !== shown.after);
    this.shown = null;
    record.mode = 'ask';
    record.openKey = key;
    record.send(entries);
    record.onOpen();
    record.tell('Rally added. The keys , and . set its time where it is off.');
  }
}
