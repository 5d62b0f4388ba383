// @ts-check
/* Playing a match: its files in order, on one match time.

   Two video elements lie on each other. One is seen; the other waits, already seeked, at the start of what comes
   next (the next file, or the next rally when only rallies are played), so that the change shows no gap. */

import { ask } from '../server/json-requests.js';
import { indexAt, inside_s, tableFrom } from './frame-time-table.js';

/**
 * @typedef {import('../server/message-types.js').Part} Part  media time is the time played plus `shift_us` (a copy may have a zero of its own)
 * @typedef {{start_us: number, end_us: number}} Span
 */

const SLOW = [1, 0.5, 0.25];
const FAST = [1, 1.25, 1.5, 2];
const READY_S = 0.002;
const JUST_AFTER_S = 1e-6; // a whole microsecond may lie a hair before the frame that begins then

export class VideoPlayer {
  /**
   * @param {HTMLElement} frame  holds two video elements
   * @param {Part[]} parts  in the order of the match
   * @param {(player: VideoPlayer) => void} onTime  called while it plays and after each seek
   */
  constructor(frame, parts, onTime) {
    this.live = false;
    this.parts = parts;
    this.onTime = onTime;
    /** @type {Span[]} */
    this.spans = [];
    this.ralliesOnly = false;
    /** @type {Span[] | null} only these are played, in order: parts of rallies */
    this.excerpts = null;
    /** @type {Span | null} played again and again */
    this.loop = null;
    this.rate = 1;
    /** @type {Set<() => void>} called like `onTime`, by the parts of the player */
    this.listeners = new Set();
    /** @type {Map<string, import('./frame-time-table.js').Table>} */
    this.tables = new Map();
    /** @type {(string)[]} */
    this.problems = [];
    const videos = /** @type {HTMLVideoElement[]} */ ([...frame.querySelectorAll('video')]);
    /** @type {{video: HTMLVideoElement, part: Part | null}} the one seen */
    this.front = { video: videos[0], part: null };
    /** @type {{video: HTMLVideoElement, part: Part | null}} the one that waits */
    this.back = { video: videos[1], part: null };
    for (const video of videos) this.listen(video);
    this.load(this.front, parts[0]);
    this.front.video.currentTime = this.mediaTime(parts[0], parts[0].starts_us);
    this.front.video.classList.add('front');
  }

  /** @param {HTMLVideoElement} video */
  listen(video) {
    const mine = () => video === this.front.video;
    for (const name of ['seeked', 'timeupdate', 'pause', 'loadedmetadata']) {
      video.addEventListener(name, () => mine() && this.tick());
    }
    video.addEventListener('play', () => mine() && this.watch());
    video.addEventListener('ended', () => mine() && this.nextPart());
    video.addEventListener('error', () => {
      this.problems.push(video.error?.message ?? '');
      if (mine()) this.tell();
    });
  }

  tell() {
    this.onTime(this);
    for (const listener of this.listeners) listener();
  }

  /** @param {{video: HTMLVideoElement, part: Part | null}} side @param {Part} part */
  load(side, part) {
    if (side.part?.url === part.url) return;
    side.part = part;
    side.video.src = part.url;
  }

  /** Match time of the picture shown, in whole microseconds. */
  get nowUs() {
    const part = this.front.part ?? this.parts[0];
    return Math.round(this.front.video.currentTime * 1e6) + part.shift_us - part.first_us + part.starts_us;
  }

  get playing() {
    return !this.front.video.paused && !this.front.video.ended;
  }

  get endUs() {
    const last = this.parts[this.parts.length - 1];
    return last.starts_us + last.end_us - last.first_us;
  }

  /** The part that holds a match time; in a gap, the part after it. @param {number} us */
  partAt(us) {
    return partAt(this.parts, us);
  }

  /** @param {Part} part @param {number} us */
  mediaTime(part, us) {
    const media = Math.max(part.first_us, Math.min(us - part.starts_us + part.first_us, part.end_us));
    return (media - part.shift_us) / 1e6;
  }

  /** Show the picture of a match time. @param {number} us @param {boolean} [play] */
  seek(us, play) {
    const part = this.partAt(us);
    const time = this.mediaTime(part, us);
    const goOn = play ?? this.playing;
    if (this.waitsAt(part, time)) this.swap();
    else {
      this.load(this.front, part);
      this.front.video.currentTime = time;
    }
    this.front.video.playbackRate = this.rate;
    if (goOn) this.play();
    this.tick();
  }

  /** Whether the hidden video already shows this moment. @param {Part} part @param {number} time */
  waitsAt(part, time) {
    const { video, part: loaded } = this.back;
    return loaded === part && !video.seeking && video.readyState >= 2 && Math.abs(video.currentTime - time) < READY_S;
  }

  swap() {
    const wasMuted = this.front.video.muted;
    this.front.video.pause();
    [this.front, this.back] = [this.back, this.front];
    this.front.video.muted = wasMuted;
    this.front.video.classList.add('front');
    this.back.video.classList.remove('front');
  }

  /** Let the hidden video wait at a match time. @param {number} us */
  prepare(us) {
    const part = this.partAt(us);
    const time = this.mediaTime(part, us);
    this.load(this.back, part);
    if (Math.abs(this.back.video.currentTime - time) > READY_S) this.back.video.currentTime = time;
  }

  play() {
    this.front.video.playbackRate = this.rate;
    this.front.video.play().catch(() => this.tell());
  }

  pause() {
    this.front.video.pause();
  }

  toggle() {
    if (this.playing) this.pause();
    else this.play();
  }

  /** @param {number} rate 1 as filmed */
  setRate(rate) {
    this.rate = rate;
    this.front.video.playbackRate = rate;
    this.tick();
  }

  /** Full, half, quarter; from faster to full. */
  nextSpeed() {
    this.setRate(after(SLOW, this.rate));
  }

  /** Faster, for looking through; after twice comes full. */
  nextFaster() {
    this.setRate(after(FAST, this.rate));
  }

  get volume() {
    return this.front.video.volume;
  }

  get muted() {
    return this.front.video.muted;
  }

  /** @param {number} volume 0 to 1 @param {boolean} muted */
  setSound(volume, muted) {
    for (const { video } of [this.front, this.back]) video.volume = volume;
    this.front.video.muted = muted;
    this.tell();
  }

  /** One frame on or back, by the table of frame times. @param {number} by */
  async step(by) {
    this.pause();
    const part = this.front.part;
    if (!part) return;
    const table = await this.tableOf(part);
    if (!table) return;
    const index = indexAt(table, this.front.video.currentTime) + by;
    this.front.video.currentTime = inside_s(table, index);
    this.tick();
  }

  /** A match time well inside the frame so many frames from that of a match time. @param {number} us @param {number} by */
  async insideFrame(us, by) {
    const part = this.partAt(us);
    const table = await this.tableOf(part);
    if (!table) return us;
    const index = indexAt(table, this.mediaTime(part, us) + JUST_AFTER_S) + by;
    return Math.round(inside_s(table, index) * 1e6) + part.shift_us - part.first_us + part.starts_us;
  }

  /** How many frames lie between the frames of two match times of one file. @param {number} from @param {number} to */
  async framesBetween(from, to) {
    const part = this.partAt(from);
    const table = await this.tableOf(part);
    const at = (/** @type {number} */ us) => (table ? indexAt(table, this.mediaTime(part, us) + JUST_AFTER_S) : 0);
    return at(to) - at(from);
  }

  /** @param {Part} part */
  async tableOf(part) {
    const known = this.tables.get(part.id);
    if (known) return known;
    const sent = /** @type {import('../server/message-types.js').FrameTable | null} */ (
      await ask(`/api/footage/${encodeURIComponent(part.id)}/frames`).catch(() => null)
    );
    if (sent === null) return null;
    const table = tableFrom(sent);
    this.tables.set(part.id, table);
    return table;
  }

  nextPart() {
    const part = this.front.part;
    const next = part ? this.parts[this.parts.indexOf(part) + 1] : undefined;
    if (next) this.seek(next.starts_us, true);
    else this.tick();
  }

  /** Follow the picture while it plays, so that a change of rally comes at its frame. */
  watch() {
    const { video } = this.front;
    const again = () => {
      if (video !== this.front.video || !this.playing) return;
      this.tick();
      if ('requestVideoFrameCallback' in video) video.requestVideoFrameCallback(again);
      else requestAnimationFrame(again);
    };
    again();
  }

  tick() {
    if (this.playing && !this.front.video.seeking) {
      if (this.loop) this.repeat(this.loop);
      else if (this.excerpts) this.skipDeadTime(this.excerpts);
      else if (this.ralliesOnly) this.skipDeadTime(this.spans);
    }
    this.tell();
  }

  /** @param {Span} loop */
  repeat(loop) {
    const now = this.nowUs;
    if (now >= loop.end_us || now < loop.start_us) this.seek(loop.start_us, true);
    else this.prepare(loop.start_us);
  }

  /** @param {Span[]} spans */
  skipDeadTime(spans) {
    const now = this.nowUs;
    const inside = spans.find((span) => span.start_us <= now && now < span.end_us);
    const next = spans.find((span) => span.start_us > now);
    if (inside && next) this.prepare(next.start_us);
    if (inside) return;
    if (next) this.seek(next.start_us, true);
    else this.pause();
  }
}

/** The part that holds a match time; in a gap, the part after it. @param {Part[]} parts @param {number} us */
export function partAt(parts, us) {
  return parts.find((part) => us < part.starts_us + part.end_us - part.first_us) ?? parts[parts.length - 1];
}

/** The value after one of a row, or the first. @param {number[]} row @param {number} value */
const after = (row, value) => row[(row.indexOf(value) + 1) % row.length];

/** Time where there is no footage: the clock, in microseconds since midnight of the match's day. */
export class Clock {
  /** @param {string} day  the match's date, or '' for today @param {(clock: Clock) => void} onTime */
  constructor(day, onTime) {
    this.live = true;
    this.ralliesOnly = false;
    /** @type {Span[]} */
    this.spans = [];
    this.playing = true;
    this.rate = 1;
    this.endUs = Infinity;
    /** @type {string[]} */
    this.problems = [];
    this.midnight = midnightOf(day);
    setInterval(() => onTime(this), 500);
  }

  get nowUs() {
    return (Date.now() - this.midnight) * 1000;
  }

  seek() {}
  play() {}
  pause() {}
  toggle() {}
  nextSpeed() {}
  setRate() {}
  async step() {}
}

/**
 * Midnight before a match that may go on past the next one; today's when the date is not that of yesterday or today.
 * @param {string} day
 */
function midnightOf(day) {
  const today = new Date();
  today.setHours(0, 0, 0, 0);
  const start = day ? new Date(`${day}T00:00:00`) : today;
  const hours = (Date.now() - start.getTime()) / 3_600_000;
  return hours >= 0 && hours < 36 ? start.getTime() : today.getTime();
}
