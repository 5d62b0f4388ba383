// @ts-check
/* The picture and the card show one rally: whichever moves, the other goes along. */

import { EARLY_US, LEAD_US } from './logging-state.js';

/** @typedef {import('./optimistic-answers.js').ShownRally} ShownRally @typedef {import('../video/rally-timeline.js').Span} Span */

const AFTER_US = 600_000; // shown after a rally before the picture stops
const PAUSE_RATE = 2; // a pause is looked through faster
const LEAST_SHOWN_US = 4_000_000; // of a rally: where only its serve was detected, the rest follows
const SETTLE_MS = 700; // a press right after the card has changed by itself was meant for the rally before

/** When the picture of a span stops. @param {Span} span */
export const shownUntil = (span) => Math.max(span.end_us + AFTER_US, span.start_us + LEAST_SHOWN_US);

export class PlaybackSync {
  /** @param {import('./logging-commands.js').RecordCommands} record @param {import('../video/multi-file-player.js').VideoPlayer | import('../video/multi-file-player.js').Clock} player */
  constructor(record, player) {
    this.record = record;
    this.player = player;
    this.last = player.nowUs;
    this.stopped = false; // the picture stopped by itself at the end of a rally
    /** @type {number | null} the speed before a pause was played */
    this.usualRate = null;
    this.changed = -Infinity; // when the card last followed the picture
  }

  /** The time of the rally in hand: its own, or of the rally heard that its answers will take. @returns {Span | null} */
  get span() {
    const { rally } = this.record;
    const { shown } = this.record.missing;
    if (this.record.mode === 'missing' && shown) return { start_us: shown.likely_start_us, end_us: shown.likely_end_us };
    if (rally.start_us !== null) return { start_us: rally.start_us, end_us: rally.end_us ?? Infinity };
    return this.record.isListed ? null : this.record.detectedAt(this.player.nowUs);
  }

  /** Whether the picture shows the rally in hand, or the time right before it. */
  get isShown() {
    const now = this.player.nowUs;
    const { span } = this;
    if (span) return span.start_us - EARLY_US <= now && now < Math.min(shownUntil(span), this.startAfter(span.start_us));
    // a rally without a time: nothing known is shown in its place
    return this.record.isListed || (now >= this.record.leastStart() && !this.comingAfter(now));
  }

  /** Start of the first recorded rally after a time. @param {number} us */
  startAfter(us) {
    return Math.min(Infinity, ...this.record.rallies.map((one) => one.start_us ?? -1).filter((start) => start > us));
  }

  /** The first rally heard and not recorded that starts after a time, and after all that are recorded. @param {number} us */
  comingAfter(us) {
    const least = this.record.leastStart();
    return this.record.toCome.find((one) => one.start_us > us && one.start_us >= least);
  }

  /** Bring the picture to the rally in hand. @param {{anew?: boolean, play?: boolean}} [how] anew: from its start, wherever it is */
  show({ anew = false, play } = {}) {
    if (this.player.live) return;
    if (this.record.mode === 'missing') return this.showPause();
    if (this.usualRate !== null) {
      this.player.setRate(this.usualRate);
      anew = true; // what was played was a pause
    }
    this.usualRate = null;
    const goOn = play ?? (this.stopped ? true : undefined);
    if (anew || !this.isShown) {
      const to = this.target();
      if (to !== null) this.player.seek(to, goOn);
    }
    this.stopped = false;
    this.last = this.player.nowUs;
  }

  /** Play the part of a pause in which a rally may be missing, twice as fast. */
  showPause() {
    const { shown } = this.record.missing;
    if (!shown) return;
    this.usualRate ??= this.player.rate;
    this.player.setRate(PAUSE_RATE);
    this.player.seek(Math.max(shown.start_us, shown.likely_start_us - LEAD_US), true);
    this.stopped = false;
    this.last = this.player.nowUs;
  }

  /** Where the picture of the rally in hand begins; null where that is not known. */
  target() {
    const { rally } = this.record;
    if (rally.start_us !== null) return this.before(rally.start_us);
    if (this.record.isListed) return null;
    const coming = this.comingAfter(this.player.nowUs);
    if (coming) return this.before(coming.start_us);
    return Math.max(this.record.leastStart(), this.player.nowUs);
  }

  /** A little before a start, but not in the rally before. @param {number} start */
  before(start) {
    const ends = this.record.rallies.filter((one) => one.start_us !== null && one.start_us < start).map((one) => one.end_us ?? 0);
    return Math.max(0, Math.min(start, Math.max(start - LEAD_US, ...ends)));
  }

  /** To the rally before or after the one in hand, with its picture. @param {1 | -1} way */
  neighbour(way) {
    const { record } = this;
    const { rallies } = record;
    const at = rallies.findIndex((one) => one.key === record.openKey);
    const coming = at < 0 ? this.neighbouringDetected(way) : undefined;
    if (coming) {
      this.player.seek(this.before(coming.start_us));
      return record.goTo(record.openKey, false);
    }
    const to = at < 0 ? (way < 0 ? rallies[rallies.length - 1] : undefined) : rallies[at + way];
    if (to) record.goTo(to.key);
    else if (way > 0 && at >= 0 && !record.isOver) record.goTo(record.freshKey());
    else record.tell(way > 0 ? 'There is no rally after this.' : 'There is no rally before this.');
    if (to?.start_us === null && !this.player.live) record.tell('This rally has no time yet: the keys , and . set it.');
  }

  /** The rally heard before or after the one whose picture is shown. @param {1 | -1} way */
  neighbouringDetected(way) {
    const shown = this.span;
    const from = shown ? shown.start_us : this.player.nowUs;
    if (way > 0) return this.comingAfter(from);
    const least = this.record.leastStart();
    return this.record.toCome.findLast((one) => one.start_us >= least && one.start_us < from);
  }

  /** Called as the picture moves: it stops where the rally in hand ends, and takes the card along into another rally. */
  moved() {
    const now = this.player.nowUs;
    const before = this.last;
    this.last = now;
    if (this.player.live || now === before) return;
    if (this.player.playing && this.stopsBetween(before, now)) {
      this.player.pause();
      this.stopped = true;
      return;
    }
    if (this.record.mode === 'ask' && this.record.asking === null) this.follow(now);
  }

  /** @param {number} before @param {number} now */
  stopsBetween(before, now) {
    const { record } = this;
    const known = record.isListed && record.rally.span_how === 'answers' && record.isNewest ? null : this.span;
    if (!known || this.player.ralliesOnly || !Number.isFinite(known.end_us)) return false;
    const end = Math.min(shownUntil(known), Math.max(known.end_us, this.startAfter(known.start_us)));
    return before < end && end <= now && now - before < 2 * AFTER_US;
  }

  /** @param {number} now */
  follow(now) {
    const { record } = this;
    const covers = (/** @type {{start_us: number | null, end_us: number | null}} */ one) =>
      one.start_us !== null && one.end_us !== null && one.start_us <= now && now < one.end_us;
    if (record.rally.start_us !== null && this.isShown) return;
    const shown = record.rallies.find((one) => one.key !== record.openKey && covers(one));
    const least = record.isListed ? Math.max(0, ...record.rallies.map((one) => one.end_us ?? 0)) : Infinity;
    const coming = record.toCome.find((one) => one.start_us >= least && covers(one));
    const key = shown?.key ?? (coming ? record.freshKey() : null);
    if (key === null || (coming && record.isOver)) return;
    if (this.player.playing) this.changed = performance.now();
    record.shownGame = null;
    record.goTo(key, false);
  }

  /** The card has changed by itself. */
  settle() {
    this.changed = performance.now();
  }

  /** Whether a press now may be meant for the rally that was in hand a moment ago. */
  get isSettling() {
    return performance.now() - this.changed < SETTLE_MS;
  }
}
