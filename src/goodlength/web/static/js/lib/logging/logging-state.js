// @ts-check
/* What the Record page knows: the match with the answers on their way laid over it, the rally in hand, the question
   open. Nothing is said or drawn here. */

import { newRally, nextKey, withPending } from './optimistic-answers.js';
import { applicableQuestions, openQuestion } from './question-flow.js';
import { isOlder } from './sheet-changes.js';

/** @typedef {import('../server/message-types.js').Sheet} Sheet @typedef {import('./optimistic-answers.js').ShownRally} ShownRally */
/** @typedef {import('../server/message-types.js').Entry} Entry @typedef {import('../server/message-types.js').EntryKind} EntryKind */
/** @typedef {{words: string, what: 'conduct', game: boolean} | {words: string, what: 'retired', why: string}} StopChoice */
/** @typedef {'ask' | 'called' | 'called-to' | 'put-right' | 'note' | 'stop' | 'stop-to' | 'bulk' | 'missing'} Mode */

export const LEAD_US = 1_500_000; // shown before a rally
export const EARLY_US = LEAD_US + 100_000; // a first answer may come as soon as its picture is shown
const SHORTEST_US = 1_000_000; // a rally whose end is not known lasts at least so long
const LATE_US = 30_000_000; // and well after the rally

export class RecordState {
  /**
   * @param {string} matchId @param {Sheet} sheet
   * @param {() => void} onChange draw the page anew
   */
  constructor(matchId, sheet, onChange) {
    this.matchId = matchId;
    this.sheet = sheet;
    this.onChange = onChange;
    /** @type {import('../server/offline-outbox.js').State} */
    this.line = { waiting: 0, connected: true, why: '' };
    this.notice = '';
    /** @type {Mode} */
    this.mode = 'ask';
    /** @type {EntryKind | null} a question opened again */
    this.asking = null;
    /** @type {import('../server/message-types.js').CallChoice | null} what the marker called, until it is known to whom */
    this.calling = null;
    /** @type {StopChoice | null} what happened between rallies, until it is known to whom */
    this.stopping = null;
    /** @type {number | null} */
    this.shownGame = null;
    /** @type {() => (number | null)} match time; null where it is not known */
    this.now = () => null;
    this.live = false;
    /** @type {(state: import('../server/offline-outbox.js').State) => void} */
    this.onLine = () => {};
    /** @type {() => void} the rally in hand has changed, and its picture is wanted */
    this.onOpen = () => {};
    this.furthest = 0;
    this.winnerOnly = false; // one press a rally: how it ended is not asked
    /** @type {(key: string) => boolean} rallies that are left for the end */
    this.isLeft = () => false;
    /** @type {(rally: ShownRally) => boolean} rallies drawn for a check */
    this.isToCheck = () => false;
    /** @type {import('../server/message-types.js').PathProposals['rallies']} what the ball's path says of rallies */
    this.fromPaths = [];
    /** @type {Map<string, {start_us: number, end_us: number}>} detected rallies deleted here as none, by the key they were given, until the sheet leaves them out */
    this.none = new Map();
    this.openKey = this.newestKey();
  }

  /** @param {string} what */
  path(what) {
    return `/api/matches/${encodeURIComponent(this.matchId)}/${what}`;
  }

  /** Take a sheet of the server, unless the one held is newer. @param {Sheet} sheet */
  hold(sheet) {
    if (isOlder(sheet, this.sheet)) return;
    this.sheet = sheet;
    const onTheirWay = new Set(this.pending.filter((entry) => entry.what === 'remove').map((entry) => entry.rally));
    for (const key of this.none.keys()) if (!onTheirWay.has(key)) this.none.delete(key); // the sheet knows of it, or of its undo
  }

  /** Put a rally back on the sheet held, unless it is there. @param {import('../server/message-types.js').Rally} row @param {number} at */
  keepRow(row, at) {
    const { rallies } = this.sheet;
    if (!rallies.some((rally) => rally.key === row.key)) this.sheet = { ...this.sheet, rallies: [...rallies.slice(0, at), row, ...rallies.slice(at)] };
  }

  // ---- what is known

  /** Answers on their way, oldest first. @returns {Entry[]} */
  get pending() {
    return [];
  }

  get rallies() {
    return withPending(this.sheet, this.pending);
  }

  /** The rally in hand, or the one that comes next and has no answer yet. */
  get rally() {
    const rallies = this.rallies;
    return rallies.find((rally) => rally.key === this.openKey) ?? newRally(this.sheet, this.openKey, rallies);
  }

  /** Whether the rally in hand is the newest: its span follows the answers. */
  get isNewest() {
    const rallies = this.rallies;
    const at = rallies.findIndex((rally) => rally.key === this.openKey);
    return at < 0 || at === rallies.length - 1;
  }

  get isOver() {
    return this.sheet.next === null && !this.rallies.some((rally) => rally.provisional);
  }

  /** The rally to be written down now: the last one while questions are open, else the next. */
  newestKey() {
    const rallies = this.rallies;
    const last = rallies[rallies.length - 1];
    if (last && (this.isOver || this.questionOf(last) !== null)) return last.key;
    return nextKey(this.sheet, this.pending);
  }

  /** Whether the rally in hand is on the sheet, and not one that has no answer yet. */
  get isListed() {
    return this.rallies.some((rally) => rally.key === this.openKey);
  }

  /** The key of a rally that has no answer yet. */
  freshKey() {
    return nextKey(this.sheet, this.pending);
  }

  /** The rally to open the page at: the first with open questions; in play, the one being played. */
  firstOpenKey() {
    const open = this.rallies.find((rally) => !this.isLeft(rally.key) && this.questionOf(rally) !== null);
    return open && (!this.live || this.isOver) ? open.key : this.newestKey();
  }

  /** The next rally with open questions; after the last one, a new rally, or else the first left open. */
  nextOpenKey() {
    const rallies = this.rallies;
    const at = rallies.findIndex((rally) => rally.key === this.openKey);
    const isOpen = (/** @type {ShownRally} */ rally) => rally.key !== this.openKey && !this.isLeft(rally.key) && this.questionOf(rally) !== null;
    const after = at < 0 ? undefined : rallies.slice(at + 1).find(isOpen);
    if (after) return after.key;
    const first = rallies.find(isOpen);
    if (first && (this.isOver || this.allDetectedAnswered)) return first.key;
    return this.isOver ? (rallies[rallies.length - 1]?.key ?? this.openKey) : this.freshKey();
  }

  /** Whether rallies were heard in the footage, and all of them are on the sheet. */
  get allDetectedAnswered() {
    return this.toCome.length === 0 && this.rallies.some((rally) => rally.span_how === 'heard');
  }

  /** @param {ShownRally} rally */
  questionOf(rally) {
    return openQuestion(this.sheet.script, this.toTake(rally), this.setChoice(rally), this.takenAlong(rally) ? ['serve.kind'] : []);
  }

  /** Whether one press takes a rally: only who won is asked, or the rally is one of the sample to check. @param {ShownRally} rally */
  isOnePress(rally) {
    return this.winnerOnly || this.isToCheck(rally);
  }

  /** A rally that one press takes: its winner is asked for, though the draft is sure of it. @param {ShownRally} rally @returns {ShownRally} */
  toTake(rally) {
    const isTaken = 'ending' in rally.answers || rally.to_confirm.includes('winner');
    return this.isOnePress(rally) && rally.drafted.includes('winner') && !isTaken ? { ...rally, to_confirm: [...rally.to_confirm, 'winner'] } : rally;
  }

  /** The kind of serve that the ball's path proposes, where it goes along with who won. @param {ShownRally} rally */
  takenAlong(rally) {
    if (this.sheet.script.depth !== 'score' || 'serve.kind' in rally.answers) return null;
    if (!this.sheet.script.questions.some((question) => question.id === 'serve.kind')) return null;
    return this.pathRallyOf(rally)?.answers.find((one) => one.what === 'serve.kind') ?? null;
  }

  /** Whether the receiver must choose before this rally (hand-out scoring at 8-all). @param {ShownRally} rally */
  setChoice(rally) {
    return Boolean(rally.provisional && rally.certain && this.sheet.next?.set_choice);
  }

  /** The question on the card: one opened again, or the first open one. */
  get question() {
    const rally = this.rally;
    if (this.asking === null) return this.questionOf(rally);
    const known = applicableQuestions(this.sheet.script, rally, this.setChoice(rally)).find((one) => one.id === this.asking);
    return known ?? this.lone(this.asking);
  }

  /**
   * A question that is not in the script of this depth, but stands in the sentence.
   * @param {EntryKind} id @returns {import('../server/message-types.js').Question | null}
   */
  lone(id) {
    if (id !== 'server') return null;
    const answers = /** @type {const} */ (['a', 'b']).map((side, at) => ({ value: side, words: `{${side}}`, key: String(at + 1), what: id }));
    return { id, ask: 'Who served?', answers, unless: [], extra: false, repeats: false, when: '', free_words: false };
  }

  /** Place of the question among those of this rally, from 1. */
  get countWords() {
    const rally = this.rally;
    const list = applicableQuestions(this.sheet.script, rally, this.setChoice(rally)).filter((one) => !one.extra || one.id in rally.answers);
    const at = list.findIndex((one) => one.id === this.question?.id);
    return at < 0 ? '' : `Question ${at + 1} of ${list.length}`;
  }

  // ---- proposed from the ball's path

  /** What the path says of the rally in hand: found by its time, or, where it is not on the sheet yet, by the detected rally shown. */
  get pathRally() {
    return this.pathRallyOf(this.rally);
  }

  /** @param {ShownRally} rally */
  pathRallyOf(rally) {
    if (this.fromPaths.length === 0) return null;
    const { start_us, end_us } = rally;
    const now = this.now();
    const isInHand = rally.key === this.openKey && !this.isListed;
    const detected = start_us === null && now !== null && isInHand ? this.detectedAt(now) : null;
    const span = start_us === null ? detected : { start_us, end_us: end_us ?? start_us + SHORTEST_US };
    if (!span) return null;
    const common = (/** @type {{start_us: number, end_us: number}} */ one) => Math.min(one.end_us, span.end_us) - Math.max(one.start_us, span.start_us);
    const best = this.fromPaths.reduce((/** @type {import('../server/message-types.js').PathProposals['rallies'][number] | null} */ found, one) => (common(one) > (found ? common(found) : 0) ? one : found), null);
    return best;
  }

  /** What the path proposes of the rally in hand to the questions that are asked of it. @returns {import('../server/message-types.js').PathProposals['rallies'][number]['answers']} */
  get pathAnswers() {
    const found = this.pathRally?.answers ?? [];
    if (found.length === 0) return [];
    const { rally } = this;
    const { winner } = rally.answers;
    const asked = applicableQuestions(this.sheet.script, rally, this.setChoice(rally));
    return found.filter((one) => asked.some((question) => question.id === one.what) && (!one.if_winner || one.if_winner === winner) && (!one.if_server || one.if_server === rally.server));
  }

  /** What is proposed to a question of the rally in hand, by the path or by the draft. @param {EntryKind} what */
  proposedTo(what) {
    const { rally } = this;
    return this.toTake(rally).to_confirm.includes(what) ? rally.answers[what] : this.pathAnswer(what)?.value;
  }

  /** By what the path says the rally was over, where that does not say how it ended; empty else. */
  get endedWords() {
    const ended = this.pathRally?.ended;
    return ended === 'tin' ? 'By its path, the ball went down: into the tin.' : ended === 'out' ? 'By its path, the ball went out.' : '';
  }

  /** The answer that the ball's path proposes to a question of the rally in hand, while nobody has answered it. @param {EntryKind} what */
  pathAnswer(what) {
    if (what in this.rally.answers) return null;
    return this.pathAnswers.find((one) => one.what === what) ?? null;
  }

  // ---- rallies detected, not recorded yet

  /** Rallies heard that no recorded one has taken yet. */
  get toCome() {
    const taken = this.rallies.filter((rally) => rally.start_us !== null);
    const none = new Set([...this.none.values()].map((one) => one.start_us));
    return this.sheet.proposed.filter(
      (one) => !none.has(one.start_us) && !taken.some((rally) => (rally.start_us ?? 0) < one.end_us && (rally.end_us ?? rally.start_us ?? 0) > one.start_us),
    );
  }

  /** The rally heard that is being answered: the last one that has started, unless it is long over. @param {number} now */
  detectedAt(now) {
    const least = this.leastStart();
    const started = this.toCome.filter((one) => one.start_us >= least && one.start_us <= now + EARLY_US);
    const last = started[started.length - 1];
    return last && now - last.end_us < LATE_US ? last : null;
  }

  /** The detected rally whose picture is shown, and whose time the first answer takes; null where the rally in hand is on the sheet. */
  get detectedInHand() {
    const now = this.now();
    return now === null || this.live || this.isListed || this.isOver ? null : this.detectedAt(now);
  }

  /** A rally never begins before the one before it ended. */
  leastStart() {
    const ends = this.rallies.filter((rally) => rally.key !== this.openKey).map((rally) => rally.end_us ?? 0);
    return Math.max(0, ...ends);
  }

  /** Whether the rally in hand is down, so that its score afterwards can be put right. */
  get isDown() {
    return this.questionOf(this.rally) === null || 'winner' in this.rally.answers;
  }

  /** The rally after which a score is put right: this one if it is down, else the one before. @returns {ShownRally | null} */
  get scored() {
    const rallies = this.rallies;
    const at = rallies.findIndex((rally) => rally.key === this.openKey);
    if (this.isDown) return this.rally;
    return (at < 0 ? rallies[rallies.length - 1] : rallies[at - 1]) ?? null;
  }

  // ---- going about

  /** Take a rally in hand. @param {string} key @param {boolean} [withPicture] false: its picture is shown already */
  goTo(key, withPicture = true) {
    this.openKey = key;
    this.mode = 'ask';
    this.asking = null;
    this.notice = '';
    this.onChange();
    if (withPicture) this.onOpen();
  }

  /** To the next rally with open questions. */
  goOn() {
    this.shownGame = null;
    this.goTo(this.nextOpenKey());
  }

  /** Whether a rally other than the one in hand has open questions, or was detected and is not on the sheet. */
  get hasOthersOpen() {
    const isOpen = (/** @type {ShownRally} */ rally) => rally.key !== this.openKey && !this.isLeft(rally.key) && this.questionOf(rally) !== null;
    return (!this.isOver && this.toCome.length > 0) || this.rallies.some(isOpen);
  }

  /** @param {Mode} mode */
  turn(mode) {
    this.mode = mode;
    this.asking = null;
    this.onChange();
  }

  /** @param {string} words */
  tell(words) {
    this.notice = words;
    this.onChange();
  }

  // ---- the line

  /** @param {import('../server/offline-outbox.js').State} state */
  lineChanged(state) {
    const shown = this.line;
    this.line = state;
    this.onLine(state);
    if (shown.connected !== state.connected || !state.connected) this.onChange();
  }
}
