// @ts-check
/* Drawing on a paused frame: by pointer, finger or keys. Each piece is stored as soon as it is finished. */

import { el, need, svg } from '../page/dom.js';
import { ask, failureWords } from '../server/json-requests.js';
import { indexAt } from '../video/frame-time-table.js';
import { DrawingHistory, KINDS, areDrawingsShown, pieceAt, shapesOf, thinned } from './drawing-shapes.js';

/** @typedef {import('./drawing-shapes.js').FrameDrawing} FrameDrawing @typedef {import('./drawing-shapes.js').Kind} Kind @typedef {import('./drawing-shapes.js').Point} Point */

const ORDER = /** @type {Kind[]} */ (Object.keys(KINDS));
const STEP = 0.005;
const LARGE_STEP = 0.05;
const SAME_FRAME_US = 20_000; // where the table of frames is not known

export class DrawingBoard {
  /** @param {import('./player-controls.js').PlayerControls} controls */
  constructor(controls) {
    this.controls = controls;
    this.root = controls.root;
    this.path = `/api/matches/${encodeURIComponent(controls.page.match)}/drawings`;
    this.panel = need('#draw-panel', this.root);
    this.sheets = controls.views.map((view) => {
      const sheet = svg('svg', { class: 'drawing' });
      view.over.append(sheet);
      return { view, sheet, lastView: '' };
    });
    this.view = controls.view; // the picture that is drawn on, where there are two
    this.words = /** @type {HTMLInputElement} */ (need('#draw-words', this.panel));
    this.on = false;
    this.wanted = false; // by the button of a page that hides the drawings at first
    /** @type {Kind | 'erase'} */
    this.tool = 'line';
    /** @type {FrameDrawing[]} */
    this.drawings = [];
    /** @type {Point[]} as they are seen */
    this.points = [];
    /** @type {Point | null} moved by the arrow keys */
    this.cross = null;
    this.history = new DrawingHistory();
    this.pointer = -1;
    this.listen();
    void this.load();
  }

  listen() {
    for (const button of this.panel.querySelectorAll('[data-tool]')) {
      button.addEventListener('click', () => this.choose(/** @type {Kind | 'erase'} */ (button.getAttribute('data-tool'))));
    }
    need('#draw-undo', this.panel).addEventListener('click', () => void this.undo());
    need('#draw-done', this.panel).addEventListener('click', () => this.toggle(false));
    for (const view of this.controls.views) {
      view.frame.addEventListener('focusin', () => this.takeUp(view));
      view.frame.addEventListener('pointerdown', (event) => this.down(event, view));
      view.frame.addEventListener('pointermove', (event) => this.move(event));
      view.frame.addEventListener('pointerup', (event) => void this.up(event));
      view.frame.addEventListener('pointercancel', () => this.drop());
    }
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

  /** Show the drawings on a page that hides them at first, or hide them again. @param {boolean} [wanted] */
  show(wanted = !this.wanted) {
    this.wanted = wanted;
    this.controls.pressed('drawings', wanted);
    this.draw();
  }

  /** The pieces of the frame shown, as it is seen. @param {import('./video-view.js').VideoView} [view] @returns {FrameDrawing[]} */
  ofFrame(view = this.view) {
    if (view.player.playing) return [];
    const { page } = this.controls;
    const all = page.showsDrawings?.() ?? areDrawingsShown({ hidden: page.hidesDrawings === true, wanted: this.wanted, drawing: this.on });
    const shown = this.drawings.filter((drawing) => isShown(view.player, drawing.at_us) && (all || this.history.added(drawing.id)));
    return view.turned ? shown.map((drawing) => ({ ...drawing, points: drawing.points.map((point) => view.asSeen(point)) })) : shown;
  }

  /** Draw on this picture from now on. @param {import('./video-view.js').VideoView} view */
  takeUp(view) {
    if (view === this.view) return;
    this.drop();
    this.cross = null;
    this.view = view;
    this.draw();
  }

  /** @param {boolean} [on] */
  async toggle(on = !this.on) {
    this.on = on;
    this.drop();
    this.cross = null;
    for (const view of this.controls.views) view.zoom.locked = on;
    this.panel.hidden = !on;
    this.root.classList.toggle('drawing-on', on);
    this.controls.pressed('draw', on);
    if (on) {
      this.controls.player.pause();
      this.choose(this.tool);
      await Promise.all(this.controls.views.map(({ player }) => player.tableOf(player.partAt(player.nowUs)))); // so that the frame is known exactly
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

  /** @param {PointerEvent} event @param {import('./video-view.js').VideoView} view */
  down(event, view) {
    if (!this.on || event.button > 0 || this.pointer >= 0) return;
    this.takeUp(view);
    this.cross = null;
    this.pointer = event.pointerId;
    view.frame.setPointerCapture(event.pointerId);
    const at = this.view.placeOf(event);
    if (this.tool === 'erase') return;
    if (this.tool === 'angle') this.points.push(at);
    else this.points = [at];
    this.draw();
  }

  /** @param {PointerEvent} event */
  move(event) {
    if (!this.on || event.pointerId !== this.pointer || this.tool === 'erase') return;
    const at = this.view.placeOf(event);
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
      const piece = pieceAt(this.ofFrame(), this.view.placeOf(event), this.view.size);
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
    this.view.frame.focus({ preventScroll: true });
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
      const piece = pieceAt(this.ofFrame(), this.cross, this.view.size);
      return piece ? this.remove(piece) : this.say('Nothing is drawn there.');
    }
    this.points.push(this.cross);
    if (this.points.length === KINDS[this.tool].points) await this.finish();
    return this.draw();
  }

  // ---- storing

  async finish() {
    if (this.tool === 'erase') return;
    const points = thinned(this.points).map((point) => this.view.asSeen(point));
    const words = this.words.value.trim();
    this.points = [];
    if (this.tool === 'text' && !words) {
      this.say('Type the words first, then press where they go.');
      this.words.focus();
      return;
    }
    if (points.length < 2 && this.tool !== 'text') return;
    const drawing = { id: newId(), at_us: this.view.player.nowUs, rally: '', kind: this.tool, points, text: this.tool === 'text' ? words : '' };
    if (await this.send('add', drawing)) {
      this.history.note('added', drawing);
      this.words.value = '';
      this.say(`${KINDS[drawing.kind].name} saved. ${KINDS[drawing.kind].hint}`);
    }
  }

  /** @param {FrameDrawing} shown */
  async remove(shown) {
    const drawing = this.drawings.find(({ id }) => id === shown.id) ?? shown; // as it is stored, not as it is seen
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

  draw() {
    if (this.controls.player.playing && this.on) void this.toggle(false);
    for (const sheet of this.sheets) this.drawSheet(sheet);
  }

  /** @param {{view: import('./video-view.js').VideoView, sheet: SVGElement, lastView: string}} of */
  drawSheet(of) {
    const { view, sheet } = of;
    view.fit();
    const mine = view === this.view;
    const pieces = this.ofFrame(view);
    const { size } = view;
    const shown = JSON.stringify([pieces.map((piece) => piece.id), view.turned, size, mine, mine && [this.points, this.cross, this.on, this.tool]]);
    if (shown === of.lastView) return;
    of.lastView = shown;
    sheet.setAttribute('viewBox', `0 0 ${size.width} ${size.height}`);
    const { points } = this;
    const unfinished = mine && points.length && this.tool !== 'erase' ? [{ id: '', at_us: 0, rally: '', kind: this.tool, points, text: this.words.value || '…' }] : [];
    const inOrder = [...pieces, ...unfinished].toSorted((a, b) => Number(b.kind === 'spotlight') - Number(a.kind === 'spotlight'));
    const shapes = inOrder.flatMap((piece) => shapesOf(/** @type {FrameDrawing} */ (piece), size));
    sheet.replaceChildren(...shapes.map(({ tag, attributes, text }) => svg(tag, attributes, text ?? null)), ...(mine ? this.crossShapes(size) : []));
    if (mine) this.list(pieces);
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

/** Whether a match time lies in the frame shown. @param {import('../video/multi-file-player.js').VideoPlayer} player @param {number} us */
function isShown(player, us) {
  const now = player.nowUs;
  const part = player.partAt(now);
  const table = player.tables.get(part.id);
  if (!table || player.partAt(us) !== part) return Math.abs(us - now) < SAME_FRAME_US;
  return indexAt(table, player.mediaTime(part, us)) === indexAt(table, player.mediaTime(part, now));
}

/** @param {number} value */
const share = (value) => Math.max(0, Math.min(1, value));

const newId = () => Array.from(crypto.getRandomValues(new Uint8Array(8)), (byte) => byte.toString(16).padStart(2, '0')).join('');
