// @ts-check
/* Everything that can be said on the Record page: each command makes entries and sends them off; no drawing here. */

import { ask, newId } from '../server/json-requests.js';
import { Outbox } from '../server/offline-outbox.js';
import { clockWords } from '../page/time-and-score-format.js';
import { ALONG, answerLog, nextKey, withPending } from './optimistic-answers.js';
import { nextShot, striker } from './question-flow.js';
import { BulkTaking } from './bulk-taking.js';
import { MissingRallies, PAUSE_FIRST, PAUSE_KEY } from './missing-rallies.js';
import { RecordState } from './logging-state.js';
import { withChanges } from './sheet-changes.js';

/** @typedef {import('../server/message-types.js').Sheet} Sheet @typedef {import('./optimistic-answers.js').ShownRally} ShownRally */
/** @typedef {import('../server/message-types.js').Entry} Entry @typedef {import('../server/message-types.js').EntryKind} EntryKind */
/** @typedef {import('../server/message-types.js').EntryValues} EntryValues @typedef {import('../server/message-types.js').CalledValue} CalledValue */
/** @typedef {import('../server/message-types.js').Clash} Clash @typedef {import('../server/message-types.js').Logged} Logged */
/** @typedef {import('./logging-state.js').StopChoice} StopChoice */
/** @typedef {EntryValues[EntryKind]} AnswerValue @typedef {import('../server/message-types.js').ShotValue['stroke']} ShotWord */

/** Answers a coach steps back over; notes, kept rallies and marked spans are not among them. */
const NOT_STEPPED = new Set(['note', 'keep', 'span', 'box', 'match', 'proposed']);

/** Answers of where the first serve came from, which are no word about the rally. */
const WHERE_SERVED = new Set(['server', 'box']);

/** Answers that say who won, or that nobody did. */
const DECIDING = [
  ['return.how', 'not-made'],
  ['return.left', 'not-made'],
  ['ending', 'let'],
  ['ending', 'service-fault'],
];

/** @param {EntryKind} what @param {unknown} value */
const decides = (what, value) => DECIDING.some(([kind, word]) => kind === what && word === value);

/** What went along with an answer: it stands right before it in its rally. @param {Logged} logged @param {Logged[]} log */
function wentAlong(logged, log) {
  const before = log.slice(0, log.indexOf(logged)).filter((entry) => entry.rally === logged.rally);
  return before.slice(before.findLastIndex((entry) => entry.how !== 'along') + 1);
}

export class RecordCommands extends RecordState {
  /**
   * @param {string} matchId @param {Sheet} sheet
   * @param {() => void} onChange draw the page anew
   */
  constructor(matchId, sheet, onChange) {
    super(matchId, sheet, onChange);
    // what follows the stroke tells two tabs of one observer apart
    this.observer = `${sheet.match.observer}/${newId().slice(0, 8)}`;
    /** @type {Map<string, number>} when an entry was said, for `performance` */
    this.enteredAt = new Map();
    /** @type {Set<string>} */
    this.joined = new Set();
    /** @type {Set<string>} ids of what was said on this page */
    this.own = new Set();
    /** @type {Map<string, {row: import('../server/message-types.js').Rally, at: number}>} rallies deleted on this page, as and where they stood */
    this.deleted = new Map();
    /** @type {Map<string, string>} which rally came in hand when each was deleted */
    this.wentOn = new Map();
    /** @type {{key: string, to: string, ids: string[]}[]} presses that went on: the rally answered, the one that came, and the entries in the order written */
    this.presses = [];
    /** @type {string[] | null} ids of what the press in hand has written so far */
    this.pressed = null;
    /** @type {string | null} the rally in hand, where it came by an answer to another, and not by a choice */
    this.cameTo = null;
    this.onLeap = () => {}; // the card has changed by itself
    this.bulk = new BulkTaking(this);
    this.missing = new MissingRallies(this);
    this.isLeft = (/** @type {string} */ key) => this.bulk.isLeft(key);
    this.isToCheck = (/** @type {ShownRally} */ rally) => this.bulk.isToCheck(rally);
    /** @type {Outbox<Entry, import('../server/message-types.js').Stored>} */
    this.outbox = new Outbox({
      name: `match/${matchId}`,
      send: async (entries) =>
        /** @type {import('../server/message-types.js').Stored} */ (
          await ask(this.path('entries'), { body: { entries, since: this.sheet.version ?? '' }, keepalive: entries.length < 20 })
        ),
      onState: (state) => this.lineChanged(state),
      onAnswer: (answer, sent) => this.stored(answer, sent),
      onRefused: (_, refused) => this.tell(refused.words),
    });
  }

  /** @override @returns {Entry[]} */
  get pending() {
    return this.outbox?.entries ?? []; // none while the page is being made
  }

  /** Bring back what an earlier page left unsent. */
  async open() {
    await this.outbox.open();
    this.openKey = this.firstOpenKey();
    this.onChange();
    this.onOpen();
  }

  /** Ask the server for the sheet: another tab may have answered. */
  async refresh() {
    const sheet = /** @type {Sheet | null} */ (await ask(this.path('sheet?follow=true')).catch(() => null));
    if (!sheet) return;
    this.hold(sheet);
    this.onChange();
  }

  // ---- what is said

  /**
   * @template {EntryKind} Kind
   * @param {Kind} what @param {EntryValues[Kind]} value @param {string} [key] @returns {Entry}
   */
  entry(what, value, key = this.openKey) {
    const standing = this.rally.key === key ? this.rally.ids[what] : undefined;
    return /** @type {Entry} */ ({
      id: newId(),
      match: this.matchId,
      observer: this.observer,
      at_utc: new Date().toISOString(),
      rally: key,
      what,
      value,
      replaces: what === 'shot' ? null : (standing ?? null),
    });
  }

  /** @param {Entry[]} entries */
  send(entries) {
    for (const entry of entries) {
      this.enteredAt.set(entry.id, performance.now());
      this.own.add(entry.id);
      this.pressed?.push(entry.id);
    }
    this.notice = '';
    this.outbox.add(entries);
    this.onChange();
  }

  /** Do what one press does; where another rally comes by it, or the end, one step back there undoes all of it. @param {() => void} press */
  asOnePress(press) {
    if (this.pressed) return press(); // part of a press
    const key = this.openKey;
    this.pressed = [];
    press();
    if (this.openKey !== key || this.mode === 'bulk') this.presses.push({ key, to: this.openKey, ids: this.pressed });
    this.pressed = null;
  }

  /** Answer the question on the card. @param {EntryKind} what @param {AnswerValue} value null: skipped */
  answer(what, value) {
    this.asOnePress(() => this.answerAndGoOn(what, value));
  }

  /** @param {EntryKind} what @param {AnswerValue} value */
  answerAndGoOn(what, value) {
    const rally = this.rally;
    const before = this.isNewest ? this.opening(rally) : [];
    const stored = what === 'shot' && value !== null ? this.shot(rally, /** @type {ShotWord} */ (value)) : value;
    const entry = this.entry(what, stored);
    const entries = [...before, ...this.asProposed(what), ...this.overruled(what, value), ...this.goesAlong(what, value), entry];
    const isOnePress = this.isOnePress(rally) && (this.isNewest || this.questionOf(rally) !== null);
    this.asking = null;
    this.mode = 'ask';
    this.send([...entries, ...this.closing(what, entries)]);
    if (isOnePress && (what === 'winner' || what === 'ending') && value !== null) this.passEnding(what, value);
  }

  /** What stands proposed in the sentence and is not asked for, taken along by who won; its tab says that it was not asked. @param {EntryKind} what @param {AnswerValue} value @returns {Entry[]} */
  goesAlong(what, value) {
    if ((what !== 'winner' && what !== 'ending') || value === null) return [];
    const kind = this.takenAlong(this.rally);
    const { along = [] } = value === 'let' || value === 'service-fault' ? {} : this.sheet.script; // of the return
    const paths = [...(kind ? [kind] : []), ...along.flatMap((each) => this.pathAnswer(each) ?? [])];
    const entries = paths.map((path) => ({ ...this.entry(path.what, /** @type {never} */ (path.value)), observer: `${this.observer}${ALONG}` }));
    return [...(paths.length > 0 ? this.asProposed(paths[0].what) : []), ...entries];
  }

  /** Take all that stands proposed, from the question in hand to the first that nothing is proposed to. */
  takeProposed() {
    this.asOnePress(() => this.takeProposedAndGoOn());
  }

  takeProposedAndGoOn() {
    const { openKey, asking } = this;
    let taken = 0;
    for (let { question } = this; question !== null && this.openKey === openKey; { question } = this) {
      const value = this.proposedTo(question.id);
      if (value === undefined) return;
      this.answer(question.id, /** @type {AnswerValue} */ (value));
      taken += 1;
      if (asking !== null) return;
    }
    if (this.openKey !== openKey || this.isNewest || taken < 2) return;
    this.goOn();
    if (this.mode === 'ask') this.tell('Taken as proposed. Step back to undo.');
  }

  /** What the ball's path proposed of this rally is kept with the first answer to one of its questions. @param {EntryKind} what @returns {Entry[]} */
  asProposed(what) {
    const found = this.pathAnswers;
    if (this.rally.ids.proposed || !found.some((one) => one.what === what)) return [];
    const answers = found.map(({ what: asked, value, chance }) => ({ what: asked, value, chance }));
    return [this.entry('proposed', /** @type {EntryValues['proposed']} */ ({ by: 'ball-path', answers }))];
  }

  /** A winner of the draft that the answer decides otherwise: the person stands. @param {EntryKind} what @param {AnswerValue} value @returns {Entry[]} */
  overruled(what, value) {
    const { rally } = this;
    const id = rally.ids.winner;
    return id && decides(what, value) && rally.drafted.includes('winner') ? [{ ...this.entry('undo', null), replaces: id }] : [];
  }

  /** Who won was all that is wanted: how it ended is skipped, and the next rally comes. @param {EntryKind} what @param {AnswerValue} value */
  passEnding(what, value) {
    const isProposed = this.sheet.script.depth !== 'score' && this.pathAnswer('ending') !== null;
    if (this.questionOf(this.rally)?.id === 'ending' && !isProposed) this.send([this.entry('ending', null)]);
    if (this.question !== null) return;
    this.goOn();
    if (this.mode === 'bulk') return;
    this.tell(what === 'winner' ? `${this.sheet.short[value === 'b' ? 'b' : 'a']} won the rally. Step back to undo.` : 'Saved. Step back to undo.');
  }

  /**
   * A shot as it is kept, or how many there were.
   * @param {ShownRally} rally @param {ShotWord} value  the word of the answer
   * @returns {import('../server/message-types.js').ShotValue | import('../server/message-types.js').ShotCount}
   */
  shot(rally, value) {
    const n = nextShot(this.sheet.script, rally);
    if (value === this.sheet.script.shots.last) return { count: n - 1 };
    const at = this.now();
    return { n, by: striker(rally, n) ?? 'a', stroke: value, ...(at === null ? {} : { at_us: at }) };
  }

  /** What the first answer says without a press: where the rally began, and the box that was shown. @param {ShownRally} rally */
  opening(rally) {
    const entries = [];
    const now = this.now();
    const detected = now === null || rally.start_us !== null ? null : this.detectedAt(now);
    if (detected !== null) {
      entries.push(this.entry('span', { start_us: detected.start_us, end_us: detected.end_us, how: 'heard' }));
    } else if (rally.start_us === null && now !== null) {
      const start = Math.round(now - this.sheet.lead_s * 1e6);
      entries.push(this.entry('span', { start_us: Math.max(this.leastStart(), start), end_us: null, how: 'answers' }));
      this.furthest = now;
    }
    if (rally.box_free && rally.box && !('box' in rally.answers)) entries.push(this.entry('box', rally.box));
    return entries;
  }

  /** Where the rally ended, said with the answer that ends it. @param {string} what @param {Entry[]} given */
  closing(what, given) {
    const rally = withPending(this.sheet, [...this.pending, ...given]).find((one) => one.key === this.openKey);
    if (!rally || !this.isNewest || rally.start_us === null || rally.end_us !== null) return [];
    const down = what === 'winner' || this.questionOf(rally) === null;
    const now = this.now();
    const end = now === null ? null : Math.max(now, this.furthest);
    if (!down || end === null || end <= rally.start_us) return [];
    const how = rally.span_how === 'marked' ? 'marked' : 'answers';
    return [{ ...this.entry('span', { start_us: rally.start_us, end_us: end, how }), replaces: rally.ids.span ?? null }];
  }

  /** The other box. */
  otherBox() {
    if (this.mode === 'missing') return this.tell(PAUSE_FIRST);
    const box = this.rally.box === 'left' ? 'right' : 'left';
    return this.send([this.entry('box', box)]);
  }

  keep() {
    if (this.mode === 'missing') return this.tell(PAUSE_FIRST);
    const keep = !this.rally.keep;
    this.send([this.entry('keep', keep)]);
    return this.tell(keep ? 'Flagged for clips.' : 'No longer flagged.');
  }

  /** A note or a call is of a rally: it waits while a pause is on the card. @override @param {import('./logging-state.js').Mode} mode */
  turn(mode) {
    const isOfRally = mode === 'note' || mode === 'called' || mode === 'put-right' || mode === 'stop';
    if (this.mode === 'missing' && isOfRally) return this.tell(PAUSE_FIRST);
    return super.turn(mode);
  }

  /** Mark the start or the end of the rally at the time shown. While a pause is on the card: of the rally that may be added. @param {'start_us' | 'end_us'} which */
  mark(which) {
    const now = this.now();
    if (now === null) return this.tell('The time in the video is not known yet.');
    if (this.mode === 'missing') return this.missing.mark(which, now);
    const rally = this.rally;
    const start_us = which === 'start_us' ? now : rally.start_us;
    let end_us = which === 'end_us' ? now : rally.end_us;
    if (start_us === null) return this.tell('Set the start of the rally first (key ,).');
    if (end_us !== null && end_us <= start_us) {
      if (which === 'end_us') return this.tell('The rally cannot end before it starts. Move forward in the video first.');
      end_us = null;
    }
    this.send([this.entry('span', { start_us, end_us, how: 'marked' })]);
    return this.tell(which === 'start_us' ? 'The rally starts here.' : 'The rally ends here.');
  }

  /** Take back the last answer, and what was said with it without a press. */
  stepBack() {
    if (this.mode === 'bulk' && this.bulk.offer.state === 'taken') return void this.bulk.undo();
    const isAsked = this.mode === 'ask' || this.mode === 'bulk' || this.mode === 'missing';
    if (!isAsked || this.asking !== null) {
      this.mode = 'ask';
      this.asking = null;
      return this.onChange();
    }
    const past = !this.isNewest && this.mode === 'ask';
    this.mode = 'ask';
    const all = answerLog(this.sheet, this.pending);
    const own = all.findLast((entry) => this.own.has(entry.id) && !NOT_STEPPED.has(entry.what));
    if (own?.what === 'remove' && own.rally.startsWith(PAUSE_KEY) && !past) return this.askAgain(own, all);
    if (own?.what === 'remove' && this.wentOn.get(own.rally) === this.openKey) return this.bringBack(own);
    const press = own && this.presses.findLast(({ to, ids }) => to === this.openKey && ids.includes(own.id));
    if (press) return this.undoPress(press);
    const log = all.filter((entry) => !past || entry.rally === this.openKey);
    const at = log.findLastIndex((entry) => !NOT_STEPPED.has(entry.what));
    if (at < 0) return this.tell('There is no answer to step back to.');
    const last = log[at];
    if (last.what === 'remove') return last.rally.startsWith(PAUSE_KEY) ? this.askAgain(last, all) : this.bringBack(last);
    if (last.how === 'taken-unseen' && !past) return void this.bulk.undo();
    const entries = [this.undo(last), ...this.givenBack(last)];
    const winner = this.winnerOnly && last.what === 'ending' ? log.slice(0, at).findLast((entry) => entry.rally === last.rally && entry.what === 'winner') : undefined;
    if (winner) entries.push(this.undo(winner)); // both came with one press
    entries.push(...[last, ...(winner ? [winner] : [])].flatMap((entry) => wentAlong(entry, log)).map((entry) => this.undo(entry)));
    const implied = winner ? this.impliedBy(winner, log.filter((entry) => entry !== last)) : this.impliedBy(last, log);
    entries.push(...implied.filter((entry) => !past || entry.what === 'proposed').map((entry) => this.undo(entry)));
    if (last.rally) this.openKey = last.rally;
    this.send(entries);
    return this.onOpen();
  }

  /** All that one press wrote is taken back, and its rally is in hand again. @param {{key: string, ids: string[]}} press */
  undoPress({ key, ids }) {
    this.openKey = key;
    this.send(ids.map((id) => ({ ...this.entry('undo', null, key), replaces: id })).toReversed());
    return this.onOpen();
  }

  /** A pause that was said to hold no rally is asked about again. @param {Logged} removal @param {Logged[]} log */
  askAgain(removal, log) {
    this.send(log.filter((entry) => entry.rally === removal.rally).map((entry) => this.undo(entry)).toReversed());
    this.missing.left = false;
    this.tell('That pause is asked about again.');
  }

  /** A rally deleted stands again, with all it had. @param {Logged} removal */
  bringBack(removal) {
    const known = this.deleted.get(removal.rally);
    if (known) this.keepRow(known.row, known.at); // the page knows the rally before it hears of it again
    this.none.delete(removal.rally);
    this.openKey = removal.rally;
    this.send([this.undo(removal)]);
    this.tell('The rally stands again.');
    return this.onOpen();
  }

  /** The winner of the draft that an answer now taken back had taken away. @param {Logged} last @returns {Entry[]} */
  givenBack(last) {
    const { pending } = this;
    const at = pending.findIndex((entry) => entry.id === last.id);
    const before = at > 0 && decides(last.what, pending[at].value) ? pending[at - 1] : undefined;
    const known = this.sheet.rallies.find((rally) => rally.key === last.rally);
    const here = before?.what === 'undo' && known?.drafted?.includes('winner') && before.replaces === known.ids.winner;
    const id = last.overruled?.undo ?? (here ? before.id : null);
    return id ? [{ ...this.entry('undo', null, last.rally), replaces: id }] : [];
  }

  /** Spans, boxes and what was proposed that stood with an answer now taken back. @param {Logged} last @param {Logged[]} log */
  impliedBy(last, log) {
    const all = log.filter((entry) => entry.rally === last.rally);
    const ofRally = all.filter((entry) => entry.id !== last.id);
    if (!ofRally.some((entry) => !NOT_STEPPED.has(entry.what))) {
      return ofRally.filter((entry) => entry.what === 'box' || entry.what === 'proposed' || (entry.what === 'span' && entry.how !== 'marked'));
    }
    const before = all[all.findIndex((entry) => entry.id === last.id) - 1];
    const shown = before?.what === 'proposed' ? [before] : [];
    const spans = ofRally.filter((entry) => entry.what === 'span');
    const end = spans[spans.length - 1];
    return spans.length > 1 && end.how === 'answers' ? [...shown, end] : shown;
  }

  /** @param {Logged} logged @returns {Entry} */
  undo(logged) {
    return { ...this.entry('undo', null, logged.rally), replaces: logged.id };
  }

  /** What the marker called, instead of what the rules or the answers give. @param {CalledValue} value */
  called(value) {
    this.mode = 'ask';
    this.calling = null;
    const rally = this.rally;
    const before = this.isNewest ? this.opening(rally) : [];
    const call = { ...rally.answers.called, ...value };
    const entries = [...before, this.entry('called', call)];
    this.send([...entries, ...this.closing('winner', entries)]);
  }

  /** The score put right in figures. @param {CalledValue} value */
  putRight(value) {
    const rally = this.scored;
    this.mode = 'ask';
    if (rally === null) return this.tell('This is where the log begins. Set the starting score on the Details page.');
    const call = { ...rally.answers.called, ...value };
    return this.send([{ ...this.entry('called', call, rally.key), replaces: rally.ids.called ?? null }]);
  }

  /** Conduct, or a player who stopped: it stands between rallies. @param {StopChoice} choice @param {import('../server/message-types.js').Side} side */
  between(choice, side) {
    this.mode = 'ask';
    this.stopping = null;
    const key = `${choice.what}-${newId().slice(0, 8)}`;
    this.send([
      choice.what === 'conduct'
        ? this.entry('conduct', { to: side, game: choice.game }, key)
        : this.entry('retired', { side, why: choice.why }, key),
    ]);
    this.goTo(this.newestKey());
  }

  /** To the next rally with open questions; after the last, to those that are sure. @override */
  goOn() {
    if (this.bulk.isOffered && !this.hasOthersOpen) {
      this.shownGame = null;
      return this.bulk.open();
    }
    if (this.missing.isDue && this.missing.questions.length > 0 && !this.missing.left) return this.missing.next();
    super.goOn();
    this.cameTo = this.openKey;
  }

  /** @override @param {string} key @param {boolean} [withPicture] */
  goTo(key, withPicture = true) {
    this.cameTo = null;
    super.goTo(key, withPicture);
  }

  /** The rally in hand came by the answer before, which has made it sure: it is left for the end, like the others. */
  leapOverSure() {
    const from = this.openKey;
    const isUntouched = this.mode === 'ask' && this.asking === null && !this.pending.some((entry) => entry.rally === from);
    if (!isUntouched || this.cameTo !== from || !this.bulk.isLeft(from) || this.bulk.isToCheck(this.rally)) return;
    this.goOn();
    for (const press of this.presses) if (press.to === from) press.to = this.openKey;
    for (const [key, to] of this.wentOn) if (to === from) this.wentOn.set(key, this.openKey);
    this.onLeap();
  }

  /** @param {string} words */
  note(words) {
    this.mode = 'ask';
    this.send([this.entry('note', words.trim() || null)]);
  }

  /** Put a forgotten rally after this one. */
  insertAfter() {
    const after = this.openKey;
    this.openKey = nextKey(this.sheet, this.pending);
    this.send([this.entry('place', { after })]);
    this.tell('Rally added. Answer it and the score is recalculated.');
  }

  /** Whether the rally in hand comes from detection or the draft, and nobody has said anything of it: it may be none. */
  get mayBeNone() {
    if (this.detectedInHand !== null) return true;
    const { rally } = this;
    const found = rally.span_how === 'heard' || (rally.start_us === null && rally.drafted.length > 0);
    const hasMore = rally.note !== '' || rally.keep || rally.measured !== '' || rally.shots.length > 0 || rally.shots_in_all !== null;
    return found && !hasMore && Object.keys(rally.answers).every((what) => WHERE_SERVED.has(what) || rally.drafted.some((drafted) => drafted === what));
  }

  /** What was detected was no rally. One that is not on the sheet is deleted under a key of its own: the next rally's key may have answers of another window's. */
  noRally() {
    if (!this.mayBeNone) {
      return this.tell(
        this.isListed
          ? 'This key deletes a detected rally that has no answers yet. Step back over the answers first.'
          : 'This key deletes a detected rally, and none was detected at the time shown. Go to it in the video first.',
      );
    }
    const detected = this.detectedInHand;
    if (detected === null) return this.removeRally();
    const key = `detected-${newId().slice(0, 8)}`;
    const span = { start_us: detected.start_us, end_us: detected.end_us, how: /** @type {const} */ ('heard') };
    const row = /** @type {import('../server/message-types.js').Rally} */ ({ ...this.rally, ...span, key, span_how: 'heard' });
    this.deleted.set(key, { row, at: this.sheet.rallies.length });
    this.none.set(key, span);
    return this.removeAnd(key, detected.start_us, [this.entry('span', span, key)]);
  }

  removeRally() {
    const { openKey, rally } = this;
    const at = this.sheet.rallies.findIndex((row) => row.key === openKey);
    if (at >= 0) this.deleted.set(openKey, { row: this.sheet.rallies[at], at });
    return this.removeAnd(openKey, rally.start_us, []);
  }

  /** Delete a rally, and go on. @param {string} key @param {number | null} start_us @param {Entry[]} before what says which rally it is */
  removeAnd(key, start_us, before) {
    // what this window saw last: an answer of another window's that came since keeps the rally
    this.send([...before, { ...this.entry('remove', true, key), replaces: this.sheet.log.at(-1)?.id ?? null }]);
    this.goOn();
    this.wentOn.set(key, this.openKey);
    this.tell(start_us === null ? 'The rally was deleted.' : `The rally at ${clockWords(start_us)} was deleted.`);
  }

  /** @param {Clash} clash @param {AnswerValue} value */
  settle(clash, value) {
    this.send([{ ...this.entry(clash.what, value, clash.rally), replaces: clash.standing }]);
  }

  /** Open a question again. @param {EntryKind} what */
  reopen(what) {
    if (what === 'box') return this.otherBox();
    if (what === 'called') return this.turn('put-right');
    this.mode = 'ask';
    this.asking = what;
    return this.onChange();
  }

  // ---- what the server says

  /**
   * Two tabs that both gave a rally a time without being asked: the longer time stands, nobody is asked.
   * @param {Sheet} sheet
   */
  joinSpans(sheet) {
    const open = sheet.span_clashes.filter((clash) => !this.joined.has(clash.standing));
    for (const clash of open) this.joined.add(clash.standing);
    const entries = open.map((clash) => ({ ...this.entry('span', clash.value, clash.rally), replaces: clash.standing }));
    if (entries.length > 0) this.outbox.add(entries);
  }

  /** @param {import('../server/message-types.js').Stored} answer @param {Entry[]} sent */
  stored(answer, sent) {
    const sheet = answer.sheet ?? (answer.changes ? withChanges(this.sheet, answer.changes) : null);
    if (sheet) this.hold(sheet);
    else void this.refresh(); // stored all the same: the page has lost track of the sheet, and asks for all of it
    if (this.bulk.canChange) void this.bulk.read();
    else void this.missing.read();
    this.joinSpans(this.sheet);
    if (this.isOver && !this.rallies.some((rally) => rally.key === this.openKey)) this.openKey = this.newestKey();
    for (const entry of sent) {
      const start = this.enteredAt.get(entry.id);
      if (start !== undefined) performance.measure('answer stored', { start, detail: entry.what });
      this.enteredAt.delete(entry.id);
    }
    this.onChange();
  }
}
