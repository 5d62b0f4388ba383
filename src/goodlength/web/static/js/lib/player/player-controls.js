// @ts-check
/* The buttons and keys of the player, the same on every page that shows a match. */

import { ask } from '../server/json-requests.js';
import { need } from '../page/dom.js';
import { clockWords, tickWords } from '../page/time-and-score-format.js';
import { drawTimeline } from '../video/rally-timeline.js';
import { BallOverlay } from './ball-overlay.js';
import { CourtOverlay, LAYERS } from './court-overlay.js';
import { DrawingBoard } from './drawing-board.js';
import { PreviewPictures } from './preview-pictures.js';
import { excerptsOf, nextImpact } from './rally-excerpts.js';
import { ScrubBar } from './scrub-bar.js';
import { VideoView } from './video-view.js';

/** @typedef {import('./court-overlay.js').Layer} Layer @typedef {import('../video/rally-timeline.js').Span} Span @typedef {import('../server/message-types.js').Impacts} Impacts */

/**
 * @typedef {object} Page what the page knows of what is played
 * @property {string} match its id; '' where what is played is of no match: nothing is drawn on it, and nothing lies over it
 * @property {Impacts} [impacts] when the ball met what, where the page knows it
 * @property {() => Span | null} [rally] the rally in hand
 * @property {() => import('../video/rally-timeline.js').View} [timeline] what the timeline shows; left out, the whole video
 * @property {(words: string) => void} [tell] where the page says something
 * @property {() => boolean} [showsDrawings] false while only what is drawn in this visit is shown
 * @property {() => void} [released] a button has moved the picture on: a stop that was due is not any more
 * @property {() => Span} [window] what the timeline spans, where it is not the whole video and the page does not draw it
 * @property {() => number} [zero] the match time that is shown as nought, where times count from a moment
 * @property {(us: number) => string} [words] a time of the timeline in words, counted from `zero`
 * @property {{frame: HTMLElement, player: import('../video/multi-file-player.js').VideoPlayer}[]} [others] pictures beside the first, in step with it
 * @property {() => import('./picture-view.js').Size} [size] of the picture, where it is not that of the video
 * @property {(event: PointerEvent) => boolean} [pressed] the picture was pressed; false where that plays or stops
 * @property {boolean} [hidesDrawings] what the coach drew is hidden at first: it would be taken for what is measured
 * @property {() => void} [zoomed] the picture is seen larger, smaller or elsewhere
 */

/** @type {Record<string, string>} */
const WORDS = { racket: 'Hit', 'front wall': 'Front wall', 'other wall': 'Side or back wall', floor: 'Bounce', tin: 'Tin', drawing: 'Drawing' };

export class PlayerControls {
  /** @param {import('../video/multi-file-player.js').VideoPlayer} player @param {Page} page */
  constructor(player, page) {
    this.player = player;
    this.page = page;
    this.root = need('#player');
    const calls = {
      pressed: (/** @type {PointerEvent} */ event) => {
        if (!page.pressed?.(event)) this.playOrStop();
      },
      changed: () => {
        this.board?.draw();
        page.zoomed?.();
      },
      size: page.size,
    };
    this.view = new VideoView(need('#frame', this.root), player, calls);
    /** All pictures, the first of them that of `player`. */
    this.views = [this.view, ...(page.others ?? []).map(({ frame, player: other }) => new VideoView(frame, other, calls))];
    this.previews = new PreviewPictures(player.parts);
    /** @type {Impacts | null} */
    this.impacts = page.impacts ?? null;
    /** @type {Span | null} a loop whose end is not set yet, or that runs */
    this.loop = null;
    /** @type {DrawingBoard | undefined} */
    this.board = undefined;
    /** @type {CourtOverlay[]} one for each picture */
    this.overlays = [];
    /** @type {Set<Layer>} what lies over the picture */
    this.layers = new Set();
    /** @type {BallOverlay[]} one for each picture */
    this.balls = [];
    this.lastShown = ''; // what the timeline shows, so that it is drawn only when that changes
    this.bar = new ScrubBar(need('#scrub-bar', this.root), player, this.previews, () => this.shown(), (us) => this.seek(us), (us) => this.wordsAt(us));
    this.rate = /** @type {HTMLSelectElement} */ (need('#rate', this.root));
    this.volume = /** @type {HTMLInputElement} */ (need('#volume', this.root));
    this.rate.addEventListener('change', () => {
      player.setRate(Number(this.rate.value));
      this.rate.blur();
    });
    this.volume.addEventListener('input', () => player.setSound(Number(this.volume.value) / 100, this.volume.value === '0'));
    need('#more-button', this.root).addEventListener('click', () => this.fold());
    document.addEventListener('fullscreenchange', () => this.draw());
    /** @type {number[]} match times of frames that are drawn on */
    this.drawingTimes = [];
    player.listeners.add(() => this.draw());
    this.draw();
    if (page.match === '') return;
    this.board = new DrawingBoard(this);
    this.overlays = this.views.map((view) => new CourtOverlay(this, view));
    this.balls = this.views.map((view) => new BallOverlay(this, view));
    void this.previews.load();
  }

  /** By the names in `data-action`: what a page gives to `listen`. @returns {Record<string, () => void>} */
  get actions() {
    const { player } = this;
    return {
      play: () => this.playOrStop(),
      'frame-back': () => void player.step(-1),
      'frame-on': () => void player.step(1),
      speed: () => player.nextSpeed(),
      faster: () => player.nextFaster(),
      'zoom-in': () => this.views.forEach((view) => view.zoom.step(1)),
      'zoom-out': () => this.views.forEach((view) => view.zoom.step(-1)),
      'zoom-whole': () => this.views.forEach((view) => view.zoom.whole()),
      loop: () => this.nextLoop(),
      'loop-rally': () => this.loopRally(),
      sound: () => this.player.setSound(player.volume || 1, !player.muted),
      full: () => void this.fullScreen(),
      short: () => void this.short(),
      'impact-before': () => void this.toImpact(-1),
      'impact-after': () => void this.toImpact(1),
      draw: () => void this.board?.toggle(),
      drawings: () => this.board?.show(),
      overlay: () => this.setLayers(this.layers.size ? [] : LAYERS),
      'over-court': () => this.toggleLayer('court'),
      'over-paths': () => this.toggleLayer('paths'),
      'over-joints': () => this.toggleLayer('joints'),
      ball: () => this.toggleBall(),
      'ball-path': () => location.assign(`/matches/${encodeURIComponent(this.page.match)}/ball?us=${Math.max(0, Math.round(player.nowUs))}`),
    };
  }

  playOrStop() {
    this.page.released?.();
    this.player.toggle();
  }

  /** Go where the coach wants to look: that ends a stop that was due, and a loop elsewhere. @param {number} us */
  seek(us) {
    const { loop } = this.player;
    this.page.released?.();
    if (loop && (us < loop.start_us || us > loop.end_us)) this.stopLoop();
    this.player.seek(us);
  }

  /** @param {string} words */
  tell(words) {
    this.page.tell?.(words);
  }

  // ---- drawing

  /** What the timeline shows. @returns {import('../video/rally-timeline.js').View} */
  shown() {
    const whole = { from_us: 0, to_us: this.player.endUs, recorded: this.player.spans, proposed: [], current: this.page.rally?.() ?? null };
    const window = this.page.window?.();
    return this.page.timeline?.() ?? (window ? { ...whole, from_us: window.start_us, to_us: window.end_us } : whole);
  }

  draw() {
    const { player, root } = this;
    root.classList.toggle('playing', player.playing);
    need('[data-action="play"]', root).setAttribute('aria-label', player.playing ? 'Stop' : 'Play');
    need('#caption', root).textContent = this.wordsAt(player.nowUs);
    this.rate.value = String(player.rate);
    if (document.activeElement !== this.volume) this.volume.value = String(Math.round(player.muted ? 0 : player.volume * 100));
    this.pressed('loop', this.loop !== null);
    this.pressed('short', player.excerpts !== null);
    this.pressed('sound', !player.muted);
    this.pressed('loop-rally', this.loopsRally);
    if (!this.page.timeline) this.drawTimes();
    this.bar.draw();
    this.board?.draw();
    for (const overlay of [...this.overlays, ...this.balls]) if (overlay.on) overlay.draw();
  }

  /** A match time in words, as this page counts. @param {number} us */
  wordsAt(us) {
    return this.page.words ? this.page.words(us - (this.page.zero?.() ?? 0)) : clockWords(us);
  }

  /** @param {readonly Layer[]} layers */
  setLayers(layers) {
    this.layers = new Set(layers);
    for (const name of LAYERS) this.pressed(`over-${name}`, this.layers.has(name));
    for (const overlay of this.overlays) overlay.show(this.layers);
  }

  /** @param {Layer} name */
  toggleLayer(name) {
    this.setLayers(LAYERS.filter((one) => (one === name) !== this.layers.has(one)));
  }

  toggleBall(on = !this.balls.some((ball) => ball.on)) {
    this.pressed('ball', on);
    for (const ball of this.balls) ball.toggle(on);
  }

  drawTimes() {
    const view = this.shown();
    const shown = JSON.stringify([view, this.page.zero?.(), this.bar.element.clientWidth]);
    if (shown === this.lastShown) return;
    this.lastShown = shown;
    const zero = this.page.zero?.() ?? 0;
    const since = (/** @type {Span} */ span) => ({ ...span, start_us: span.start_us - zero, end_us: span.end_us - zero });
    const counted = { recorded: view.recorded.map(since), proposed: view.proposed.map(since), current: view.current && since(view.current), from_us: view.from_us - zero, to_us: view.to_us - zero };
    drawTimeline(/** @type {SVGElement} */ (/** @type {unknown} */ (need('#timeline', this.root))), counted, this.page.words ?? tickWords);
  }

  /** @param {string} action @param {boolean} on */
  pressed(action, on) {
    for (const button of document.querySelectorAll(`button[data-action="${action}"][aria-pressed]`)) button.setAttribute('aria-pressed', String(on));
  }

  fold(open = need('#more', this.root).hidden) {
    need('#more', this.root).hidden = !open;
    need('#more-button', this.root).setAttribute('aria-expanded', String(open));
  }

  async fullScreen() {
    if (document.fullscreenElement) return document.exitFullscreen();
    if (this.root.classList.contains('whole-window') || !document.fullscreenEnabled) return void this.root.classList.toggle('whole-window');
    return this.root.requestFullscreen().catch(() => void this.root.classList.add('whole-window'));
  }

  // ---- playing again and again

  /** From here, to here, off. */
  nextLoop() {
    const now = this.player.nowUs;
    if (this.loop === null) {
      this.loop = { start_us: now, end_us: Infinity };
      this.tell(`The loop starts at ${clockWords(now)}. Press Loop again where it ends.`);
    } else if (this.loop.end_us === Infinity && now > this.loop.start_us) {
      this.play({ start_us: this.loop.start_us, end_us: now });
      this.tell(`Playing ${clockWords(this.loop.start_us)} to ${clockWords(now)} again and again. Press Loop to stop.`);
      return;
    } else this.stopLoop();
    this.draw();
  }

  get loopsRally() {
    const rally = this.page.rally?.();
    return Boolean(rally && this.player.loop && this.player.loop.start_us === rally.start_us && this.player.loop.end_us === rally.end_us);
  }

  loopRally() {
    const rally = this.page.rally?.();
    if (this.loopsRally) return this.stopLoop();
    if (!rally || !Number.isFinite(rally.end_us)) return this.tell('This rally has no start and end time yet.');
    return this.play({ start_us: rally.start_us, end_us: rally.end_us });
  }

  /** @param {Span} loop */
  play(loop) {
    this.page.released?.();
    this.loop = loop;
    this.player.loop = loop;
    this.player.seek(loop.start_us, true);
  }

  stopLoop() {
    this.loop = null;
    this.player.loop = null;
    this.tell('The loop is off.');
    this.draw();
  }

  // ---- looking through

  /** @returns {Promise<Impacts>} */
  async loadImpacts() {
    this.impacts ??= /** @type {Impacts} */ (
      await ask(`/api/matches/${encodeURIComponent(this.page.match)}/impacts`).catch(() => ({ rallies: [], impacts: [] }))
    );
    return this.impacts;
  }

  async short() {
    const { player } = this;
    if (player.excerpts) {
      player.excerpts = null;
      this.tell('Playing everything.');
      return this.draw();
    }
    const { rallies } = await this.loadImpacts();
    if (rallies.length === 0) return this.tell('The hits of this match are not known yet. Detect the rallies on the Footage page.');
    player.excerpts = excerptsOf(rallies);
    this.tell('Playing the serve, the return and the last two shots of each rally.');
    return this.draw();
  }

  /** @param {1 | -1} way */
  async toImpact(way) {
    const what = /** @type {HTMLSelectElement} */ (need('#impact-kind', this.root)).value;
    const { impacts } = await this.loadImpacts();
    const drawings = this.drawingTimes.map((us) => ({ us, what: 'drawing' }));
    const places = [...impacts, ...drawings].toSorted((a, b) => a.us - b.us);
    const found = nextImpact(places, this.player.nowUs, way, what);
    if (!found) return this.tell(`No ${what ? WORDS[what].toLowerCase() : 'hit, wall, bounce or drawing'} is known ${way > 0 ? 'after' : 'before'} this moment.`);
    this.page.released?.();
    this.player.seek(found.us, false);
    this.player.pause();
    if (found.what === 'drawing' && this.page.hidesDrawings) this.board?.show(true);
    return this.tell(found.what === 'drawing' ? `Drawing at ${clockWords(found.us)}.` : `${WORDS[found.what] ?? 'Contact'} at ${clockWords(found.us)}, from the sound.`);
  }
}
