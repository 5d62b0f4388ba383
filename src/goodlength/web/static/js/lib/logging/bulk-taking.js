// @ts-check
/* Rallies that are sure in every answer: they come last, ten of them are checked, the others can be taken unwatched.
   What is sure, and which ten are drawn, the server says; here is only what the card does with it. */

import { count } from '../page/time-and-score-format.js';
import { ask, failureWords } from '../server/json-requests.js';

/** @typedef {import('../server/message-types.js').BulkOffer} BulkOffer @typedef {import('./optimistic-answers.js').ShownRally} ShownRally */

const DROPPED = 'goodlength cannot be reached. Try again when the connection is back.';

/** @type {BulkOffer} */
const NOTHING = { state: 'none', sure: [], sample: [], right: 0, wrong: 0, taken: 0, to_check: [], ask: '', text: '' };
const OFFERS = new Set(['offered', 'checking', 'ready']);

export class BulkTaking {
  /** @param {import('./logging-commands.js').RecordCommands} record */
  constructor(record) {
    this.record = record;
    this.offer = NOTHING;
    this.declined = false; // the coach goes through them one by one
    this.asked = 0;
    this.answered = 0; // the newest question that an offer came for
    this.reading = false;
    this.taking = false; // and what the sheet lacks is read after it
  }

  /** Whether rallies are left for the end, to be taken together. */
  get isOffered() {
    return OFFERS.has(this.offer.state) && !this.declined;
  }

  /** Whether an answer may change what is offered: where the score has waited for a winner, it may make many rallies sure. */
  get canChange() {
    return this.offer.state !== 'none' || (this.record.sheet.script.depth === 'score' && this.record.fromPaths.length > 0);
  }

  /** Whether a rally waits for the end. @param {string} key */
  isLeft(key) {
    return this.isOffered && (this.offer.sure.includes(key) || this.offer.sample.includes(key));
  }

  /** Whether a rally was drawn, and no person has been through it. @param {ShownRally} rally */
  isToCheck(rally) {
    return this.offer.state === 'checking' && this.offer.sample.includes(rally.key) && rally.drafted.includes('winner');
  }

  /** The rallies drawn that no person has been through. */
  get toCheck() {
    return this.record.rallies.filter((rally) => this.isToCheck(rally));
  }

  /** Rallies drawn that a person has been through without answering all that was proposed. */
  get unanswered() {
    if (this.reading || this.record.pending.length > 0) return []; // the offer is older than the answers
    const { to_check } = this.offer;
    return this.record.rallies.filter((rally) => to_check.includes(rally.key) && !rally.drafted.includes('winner'));
  }

  /** Read the offer as it is now. One that is overtaken by a newer one is dropped; one that a newer question waits behind is not. */
  async read() {
    const turn = ++this.asked;
    this.reading = true;
    const found = /** @type {BulkOffer | null} */ (await ask(this.record.path('bulk')).catch(() => null));
    if (turn === this.asked) this.reading = false;
    if (!found || turn < this.answered) return this.record.onChange();
    this.answered = turn;
    return this.take(found);
  }

  /** @param {BulkOffer} found */
  take(found) {
    this.offer = found;
    if (this.record.mode === 'bulk' && found.state === 'withdrawn') this.withdraw();
    else this.record.onChange();
    this.record.leapOverSure();
    return this.record.missing.read();
  }

  /** One of the sample was wrong: the others come one by one. */
  withdraw() {
    this.record.goOn();
    const { wrong, sample } = this.offer;
    this.record.tell(`${wrong} of ${sample.length} ${wrong === 1 ? 'was' : 'were'} wrong, so the others come one by one.`);
  }

  /** The page is open: the doubtful rallies come first. */
  begin() {
    const { record } = this;
    if (!this.isOffered || record.own.size > 0 || !this.isLeft(record.openKey)) return;
    record.goOn();
    if (record.mode !== 'bulk' && this.offer.state === 'offered') record.tell(`${this.offer.sure.length} rallies are sure in every answer: they come last.`);
  }

  /** The next rally to check, or the card that says what comes of it. */
  open() {
    const { record, toCheck } = this;
    if (this.offer.state === 'checking' && toCheck.length > 0) return record.goTo(toCheck[0].key);
    return record.turn('bulk');
  }

  /** What stands on the sheet as long as anything is taken and not watched; empty where nothing is. */
  get takenWords() {
    const { taken } = this.offer;
    return taken > 0 ? `${count(taken, 'rally', 'rallies')} taken unwatched.` : '';
  }

  /** Say where the check is, for the card. */
  get countWords() {
    const { sample } = this.offer;
    return this.isToCheck(this.record.rally) ? `Check ${sample.length - this.toCheck.length + 1} of ${sample.length}` : '';
  }

  /** Ask the server for something, and read the sheet anew. @param {'sample' | 'take' | 'undo'} what @returns {Promise<boolean>} */
  async send(what) {
    const { record } = this;
    if (record.line.waiting > 0 || !record.line.connected) {
      record.tell('Some answers are not saved yet. Try again in a moment.');
      return false;
    }
    this.answered = ++this.asked; // an answer to an older question comes too late
    this.reading = false;
    try {
      this.offer = /** @type {BulkOffer} */ (await ask(record.path(`bulk/${what}`), { method: 'POST' }));
    } catch (error) {
      record.tell(failureWords(error, DROPPED));
      return false;
    }
    await record.refresh();
    return true;
  }

  /** Draw the rallies to check. */
  async draw() {
    if (await this.send('sample')) this.open();
  }

  /** Take the others. */
  async takeAll() {
    this.taking = true;
    if (await this.send('take')) {
      this.record.turn('bulk');
      await this.record.missing.read(); // what the sheet lacks can be worked out now
    }
    this.taking = false;
    this.record.onChange();
  }

  /** Undo what was taken, as one step; where the offer no longer stands, they come one by one. */
  async undo() {
    if (!(await this.send('undo'))) return;
    if (this.offer.state === 'taken') this.record.turn('bulk');
    else if (this.isOffered) this.open();
    else this.record.goOn();
    this.record.tell('The rallies taken together are open again.');
  }

  /** Go through all of them instead. */
  decline() {
    this.declined = true;
    this.record.goOn();
  }
}
