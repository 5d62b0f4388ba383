// @ts-check
/* Drawing on a paused frame: by pointer, finger or keys. Each piece is stored as soon as it is finished. */

import { el, need, svg } from '../page/dom.js';
import { ask, failureWords } from '../server/json-requests.js';
import { indexAt } from '../video/frame-time-table.js';
import { DrawingHistory, KINDS, pieceAt, shapesOf, thinned } from './drawing-shapes.js';
import { contentBox } from './picture-view.js';

/** @typedef {import('./drawing-shapes.js').FrameDrawing} FrameDrawing @typedef {import('./drawing-shapes.js').Kind} Kind @typedef {import('./drawing-shapes.js').Point} Point */

const ORDER = /** @type {Kind[]} */ (Object.keys(KINDS));
const STEP = 0.005;
const LARGE_STEP = 0.05;
const SAME_FRAME_US = 20_000; // where the table of frames is not known

export class DrawingBoard {
  /** @param {import('./player-controls.js').PlayerControls} controls */
  constructor(controls) {
    this.controls = controls;
    this.player = controls.player;
    this.root = controls.root;
    this.path = `/api/matches/${encodeURIComponent(controls.page.match)}/drawings`;
    this.panel = need('#draw-panel', this.root);
    this.over = need('.over-picture', this.root);
    this.sheet = svg('svg', { class: 'drawing' });
    this.over.append(this.sheet);
    this.words = /** @type {HTMLInputElement} */ (need('#draw-words', this.panel));
    this.on = false;
    /** @type {Kind | 'erase'} */
    this.tool = 'line';
    /** @type {FrameDrawing[]} */
    this.drawings = [];
    /** @type {Point[]} */
    this.points = [];
    /** @type {Point | null} moved by the arrow keys */
    this.cross = null;
    this.history = new DrawingHistory();
    this.pointer = -1;
    this.lastView = '';
    this.listen();
    void this.load();
  }

  listen() {
    for (const button of this.panel.querySelectorAll('[data-tool]')) {
      button.addEventListener('click', () => this.choose(/** @type {Kind | 'erase'} */ (button.getAttribute('data-tool'))));
    }
    need('#draw-undo', this.panel).addEventListener('click', () => void this.undo());
    need('#draw-done', this.panel).addEventListener('click', () => this.toggle(false));
    this.controls.frame.addEventListener('pointerdown', (event) => this.down(event));
    this.controls.frame.addEventListener('pointermove', (event) => this.move(event));
    this.controls.frame.addEventListener('pointerup', (event) => void this.up(event));
    this.controls.frame.addEventListener('pointercancel', () => this.drop());
    document.addEventListener('keydown', (event) => this.key(event), { capture: true });
  }

  async load() {
    try {
      this.take(await ask(this.path));
    } catch (error) {
      this.controls.tell(failureWords(error, 'The drawings could not be loaded. Reload the page.'));
    }
  }

  /** @param {unknown} answer */
  take(answer) {
    this.drawings = /** @type {import('../server/message-types.js').FrameDrawings} */ (answer).drawings;
    this.controls.drawingTimes = this.drawings.map((drawing) => drawing.at_us);
    this.draw();
  }

  // ---- the frame

  /** The pieces of the frame shown. @returns {FrameDrawing[]} */
  get ofFrame() {
    return this.player.playing ? [] : this.drawings.filter((drawing) => this.isShown(drawing.at_us));
  }

  /** Whether a match time lies in the frame shown. @param {number} us */
  isShown(us) {
    const now = this.player.nowUs;
    const part = this.player.partAt(now);
    const table = this.player.tables.get(part.id);
    if (!table || this.player.partAt(us) !== part) return Math.abs(us - now) < SAME_FRAME_US;
    return indexAt(table, this.player.mediaTime(part, us)) === indexAt(table, this.player.mediaTime(part, now));
  }

  /** @param {boolean} [on] */
  async toggle(on = !this.on) {
    this.on = on;
    this.drop();
    this.cross = null;
    this.controls.zoom.locked = on;
    this.panel.hidden = !on;
    this.root.classList.toggle('drawing-on', on);
    this.controls.pressed('draw', on);
    if (on) {
      this.player.pause();
      this.choose(this.tool);
      await this.player.tableOf(this.player.partAt(this.player.nowUs)); // so that the frame is known exactly
    }
    this.draw();
  }

  /** @param {Kind | 'erase'} tool */
  choose(tool) {
    this.tool = tool;
    this.drop();
    for (const button of this.panel.querySelectorAll('[data-tool]')) button.setAttribute('aria-pressed', String(button.getAttribute('data-tool') === tool));
    need('#draw-text', this.panel).hidden = tool !== 'text';
    if (tool === 'text') this.words.focus();
    this.say(tool === 'erase' ? 'Press the piece to remove.' : KINDS[tool].hint);
  }

  /** @param {string} words */
  say(words) {
    need('#draw-hint', this.panel).textContent = words;
  }

  // ---- pointer

  /** @param {{clientX: number, clientY: number}} event @returns {Point} */
  place(event) {
    const box = this.over.getBoundingClientRect();
    return [share((event.clientX - box.left) / box.width), share((event.clientY - box.top) / box.height)];
  }

  /** @param {PointerEvent} event */
  down(event) {
    if (!this.on || event.button > 0 || this.pointer >= 0) return;
    this.cross = null;
    this.pointer = event.pointerId;
    this.controls.frame.setPointerCapture(event.pointerId);
    const at = this.place(event);
    if (this.tool === 'erase') return;
    if (this.tool === 'angle') this.points.push(at);
    else this.points = [at];
    this.draw();
  }

  /** @param {PointerEvent} event */
  move(event) {
    if (!this.on || event.pointerId !== this.pointer || this.tool === 'erase') return;
    const at = this.place(event);
    if (this.tool === 'freehand') this.points.push(at);
    else if (this.tool === 'angle' || this.tool === 'text') this.points[this.points.length - 1] = at;
    else this.points = [this.points[0], at];
    this.draw();
  }

  /** @param {PointerEvent} event */
  async up(event) {
    if (event.pointerId !== this.pointer) return;
    this.pointer = -1;
    if (this.tool === 'erase') {
      const piece = pieceAt(this.ofFrame, this.place(event), this.size);
      if (piece) await this.remove(piece);
      else this.say('Nothing is drawn there.');
    } else if (this.tool === 'freehand') await this.finish();
    else if (this.points.length === KINDS[this.tool].points) await this.finish();
    else if (this.tool !== 'angle') this.drop();
    this.draw();
  }

  drop() {
    this.points = [];
    this.pointer = -1;
    this.draw();
  }

  // ---- keys

  /** @param {KeyboardEvent} event */
  key(event) {
    const typing = event.target instanceof HTMLElement && event.target.closest('input, select, textarea');
    if (!this.on || event.ctrlKey || event.metaKey || event.altKey || document.querySelector('dialog[open]')) return;
    const act = this.keyAct(event, Boolean(typing));
    if (!act) return;
    event.preventDefault();
    event.stopPropagation();
    act();
  }

  /** @param {KeyboardEvent} event @param {boolean} typing @returns {(() => void) | null} */
  keyAct(event, typing) {
    if (event.key === 'Escape') return () => void this.toggle(false);
    if (typing) return event.key === 'Enter' ? () => this.toCross() : null;
    const onButton = event.target instanceof HTMLElement && event.target.closest('button, a, summary, [role="slider"]');
    if (/^[1-8]$/.test(event.key)) return () => this.choose(ORDER[Number(event.key) - 1] ?? 'erase');
    if (event.key === 'Backspace') return () => void this.undo();
    if (onButton) return null;
    if (event.key === 'Enter') return () => void this.setPoint();
    if ((event.key === 't' || event.key === 'T') && this.tool === 'freehand' && this.points.length > 1) return () => void this.finish();
    const [dx, dy] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key] ?? [0, 0];
    if (!dx && !dy) return null;
    return () => this.moveCross(dx * (event.shiftKey ? LARGE_STEP : STEP), dy * (event.shiftKey ? LARGE_STEP : STEP));
  }

  toCross() {
    this.words.blur();
    this.controls.frame.focus({ preventScroll: true });
    this.moveCross(0, 0);
  }

  /** @param {number} dx @param {number} dy */
  moveCross(dx, dy) {
    const [x, y] = this.cross ?? [0.5, 0.5];
    this.cross = [share(x + dx), share(y + dy)];
    this.draw();
  }

  async setPoint() {
    if (!this.cross) return this.moveCross(0, 0);
    if (this.tool === 'erase') {
      const piece = pieceAt(this.ofFrame, this.cross, this.size);
      return piece ? this.remove(piece) : this.say('Nothing is drawn there.');
    }
    this.points.push(this.cross);
    if (this.points.length === KINDS[this.tool].points) await this.finish();
    return this.draw();
  }

  // ---- storing

  async finish() {
    if (this.tool === 'erase') return;
    const points = thinned(this.points);
    const words = this.words.value.trim();
    this.points = [];
    if (this.tool === 'text' && !words) {
      this.say('Type the words first, then press where they go.');
      this.words.focus();
      return;
    }
    if (points.length < 2 && this.tool !== 'text') return;
    const drawing = { id: newId(), at_us: this.player.nowUs, rally: '', kind: this.tool, points, text: this.tool === 'text' ? words : '' };
    if (await this.send('add', drawing)) {
      this.history.note('added', drawing);
      this.words.value = '';
      this.say(`${KINDS[drawing.kind].name} saved. ${KINDS[drawing.kind].hint}`);
    }
  }

  /** @param {FrameDrawing} drawing */
  async remove(drawing) {
    if (await this.send('remove', drawing)) {
      this.history.note('removed', drawing);
      this.say(`${KINDS[drawing.kind].name} removed. Undo brings it back.`);
    }
  }

  async undo() {
    if (this.points.length) return this.drop();
    const step = this.history.undo();
    if (!step) return this.say('Nothing to undo.');
    if (await this.send(step.act, step.drawing)) this.say(step.act === 'add' ? 'Back again.' : 'Undone.');
    return undefined;
  }

  /** @param {'add' | 'remove'} act @param {FrameDrawing} drawing */
  async send(act, drawing) {
    const { id, at_us, kind, points, text } = drawing;
    try {
      const answer =
        act === 'add' ? await ask(this.path, { body: { id, at_us, kind, points, text } }) : await ask(`${this.path}/${encodeURIComponent(id)}/remove`, { body: {} });
      this.take(answer);
      return true;
    } catch (error) {
      this.say(failureWords(error, 'The connection dropped. Nothing was changed. Try again.'));
      return false;
    }
  }

  // ---- showing

  get size() {
    return { width: Math.max(1, this.over.clientWidth), height: Math.max(1, this.over.clientHeight) };
  }

  fit() {
    const { videoWidth, videoHeight } = this.player.front.video;
    const box = contentBox(this.controls.zoom.size, { width: videoWidth, height: videoHeight });
    for (const [name, px] of /** @type {const} */ ([['left', box.x], ['top', box.y], ['width', box.width], ['height', box.height]])) this.over.style[name] = `${px}px`;
  }

  draw() {
    if (this.player.playing && this.on) void this.toggle(false);
    this.fit();
    const pieces = this.ofFrame;
    const view = JSON.stringify([pieces.map((piece) => piece.id), this.points, this.cross, this.size, this.on, this.tool]);
    if (view === this.lastView) return;
    this.lastView = view;
    const { size } = this;
    this.sheet.setAttribute('viewBox', `0 0 ${size.width} ${size.height}`);
    const unfinished = this.points.length && this.tool !== 'erase' ? [{ id: '', at_us: 0, rally: '', kind: this.tool, points: this.points, text: this.words.value || '…' }] : [];
    const inOrder = [...pieces, ...unfinished].toSorted((a, b) => Number(b.kind === 'spotlight') - Number(a.kind === 'spotlight'));
    const shapes = inOrder.flatMap((piece) => shapesOf(/** @type {FrameDrawing} */ (piece), size));
    this.sheet.replaceChildren(...shapes.map(({ tag, attributes, text }) => svg(tag, attributes, text ?? null)), ...this.crossShapes(size));
    this.list(pieces);
  }

  /** @param {{width: number, height: number}} size */
  crossShapes(size) {
    if (!this.on || !this.cross) return [];
    const [x, y] = [this.cross[0] * size.width, this.cross[1] * size.height];
    const d = `M${x - 14} ${y}H${x - 4}M${x + 4} ${y}H${x + 14}M${x} ${y - 14}V${y - 4}M${x} ${y + 4}V${y + 14}`;
    return [svg('path', { class: 'case', d }), svg('path', { class: 'ink', d })];
  }

  /** Each piece of the frame with a button that removes it. @param {FrameDrawing[]} pieces */
  list(pieces) {
    need('#draw-list', this.panel).replaceChildren(
      ...pieces.map((piece, n) =>
        el('li', {}, el('button', { type: 'button', class: 'tool', onclick: () => void this.remove(piece) }, `Remove ${KINDS[piece.kind].name.toLowerCase()}${piece.text ? ` “${piece.text}”` : ` ${n + 1}`}`)),
      ),
    );
  }
}

/** @param {number} value */
const share = (value) => Math.max(0, Math.min(1, value));

const newId = () => Array.from(crypto.getRandomValues(new Uint8Array(8)), (byte) => byte.toString(16).padStart(2, '0')).join('');
