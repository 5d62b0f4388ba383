// @ts-check
/* The frame of the original at full size, over the paused video: points are set on it, not on a copy that plays.

   While the video plays or is scrubbed, the video itself is seen. Where it comes to rest, the frame shown then is
   fetched and laid over it. Where a browser cannot play the video, the frames alone are shown. */

import { ask, failureWords } from '../server/json-requests.js';
import { clockWords } from '../page/time-and-score-format.js';

const WINDOW_US = 6_000_000;
const REST_MS = 90; // so long the video rests before its frame is fetched

export class ExactFrame {
  /**
   * @param {import('./player-controls.js').PlayerControls} controls of one file alone
   * @param {import('../server/message-types.js').PickedFile} film
   * @param {{shown: () => void, trouble: (words: string) => void}} calls  another frame is shown; why none is
   */
  constructor(controls, film, calls) {
    this.controls = controls;
    this.player = controls.player;
    this.film = film;
    this.calls = calls;
    this.image = new Image();
    this.image.className = 'exact';
    this.image.alt = '';
    this.image.draggable = false;
    controls.view.over.prepend(this.image);
    this.us = -1; // media time of the frame shown; -1 while there is none
    /** @type {number[]} */
    this.starts = [];
    this.wanted = 0;
    this.loadingFrom = -1; // where the video stood when the frame that is being fetched was asked for
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.due = undefined;
    this.player.listeners.add(() => this.#follow());
  }

  /** Whether the frame seen is that of `us`, at full size. */
  get isShown() {
    return this.us >= 0 && !this.image.hidden;
  }

  /** Media time of the video. */
  get mediaUs() {
    const [part] = this.player.parts;
    return this.player.nowUs - part.starts_us + part.first_us;
  }

  /** Show the frame of a moment. @param {number} us media time */
  async show(us) {
    const mine = ++this.wanted;
    clearTimeout(this.due);
    this.player.pause();
    this.loadingFrom = this.mediaUs;
    const at = Math.min(Math.max(Math.round(us), this.film.first_us), this.film.end_us - 1);
    const next = new Image();
    let start = at;
    try {
      await this.#know(at);
      start = this.starts.findLast((start_us) => start_us <= at) ?? this.starts[0] ?? at;
      next.src = this.#address(start);
      await next.decode();
    } catch {
      if (mine !== this.wanted) return;
      this.loadingFrom = -1;
      this.calls.trouble(await this.#whyNot(at));
      return;
    }
    if (mine !== this.wanted) return;
    this.loadingFrom = -1;
    this.calls.trouble('');
    this.image.src = next.src;
    this.image.alt = `Frame at ${clockWords(start)}`;
    this.image.hidden = false;
    this.us = start;
    this.#toVideo(start);
    this.calls.shown();
    for (const by of [1, -1]) {
      const near = this.starts[this.starts.indexOf(start) + by];
      if (near !== undefined) new Image().src = this.#address(near);
    }
  }

  /** @param {number} by */
  async step(by) {
    if (this.us < 0) return this.show(this.mediaUs);
    await this.#know(this.us);
    const at = this.starts.indexOf(this.us) + by;
    if (at >= 0 && at < this.starts.length) await this.show(this.starts[at]);
    return undefined;
  }

  /** How long frames are round here, microseconds. */
  get frameUs() {
    const at = Math.max(1, this.starts.indexOf(this.us));
    return this.starts.length > 1 ? this.starts[at] - this.starts[at - 1] : 40_000;
  }

  /** Whether a media time lies in the frame of `us`. @param {number} media */
  #isOf(media) {
    const next = this.starts[this.starts.indexOf(this.us) + 1] ?? this.us + this.frameUs;
    return this.us >= 0 && this.us <= media && media < next;
  }

  /** Let the video stand well inside the frame, so that it plays on from there. @param {number} start */
  #toVideo(start) {
    const [part] = this.player.parts;
    if (!this.player.playing) this.player.seek(start + Math.round(this.frameUs / 2) - part.first_us + part.starts_us, false);
  }

  /** The video plays, is scrubbed, or rests. */
  #follow() {
    const { playing, front } = this.player;
    if (playing) {
      clearTimeout(this.due);
      this.wanted += 1;
      this.loadingFrom = -1;
      this.image.hidden = true;
      return;
    }
    if (this.#isOf(this.mediaUs)) return void (this.image.hidden = false);
    if (this.loadingFrom === this.mediaUs) return; // on its way
    if (!this.player.problems.length) this.image.hidden = true; // the video shows what is there meanwhile
    clearTimeout(this.due);
    this.due = setTimeout(() => {
      if (front.video.seeking && !this.player.problems.length) this.#follow();
      else void this.show(this.mediaUs);
    }, REST_MS);
  }

  /** Why a frame could not be fetched, in the server's words where it has any. @param {number} us */
  async #whyNot(us) {
    const otherwise = 'This frame could not be loaded. Go to the next one, or reload the page.';
    try {
      await ask(`/api/footage/${encodeURIComponent(this.film.footage)}/times?from_us=${us}&until_us=${us + 1}`);
      return otherwise;
    } catch (error) {
      return failureWords(error, otherwise);
    }
  }

  /** @param {number} us */
  #address(us) {
    return `/api/footage/${encodeURIComponent(this.film.footage)}/picture?us=${us}`;
  }

  /** Know the frames round a moment. @param {number} us */
  async #know(us) {
    const last = this.starts[this.starts.length - 1];
    const inside = this.starts.length && us >= this.starts[0] + 500_000 && us <= last - 500_000;
    const atEdge = this.starts.length && ((us < this.starts[0] + 500_000 && this.starts[0] <= this.film.first_us) || (us > last - 500_000 && last >= this.film.end_us - 1_000_000));
    if (inside || (atEdge && us >= this.starts[0] && us <= this.film.end_us)) return;
    const from = Math.max(this.film.first_us, us - WINDOW_US);
    const path = `/api/footage/${encodeURIComponent(this.film.footage)}/times?from_us=${from}&until_us=${us + WINDOW_US}`;
    this.starts = /** @type {import('../server/message-types.js').FrameTimes} */ (await ask(path)).starts_us;
  }
}
