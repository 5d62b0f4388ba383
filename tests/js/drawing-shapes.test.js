// @ts-check
/* What is drawn on a frame: its shapes, which piece a press means, and undoing. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { DrawingHistory, KINDS, areDrawingsShown, degreesOf, pieceAt, shapesOf, thinned } from '../../src/goodlength/web/static/js/lib/player/drawing-shapes.js';
import { contentBox } from '../../src/goodlength/web/static/js/lib/player/picture-view.js';

/** @typedef {import('../../src/goodlength/web/static/js/lib/player/drawing-shapes.js').FrameDrawing} FrameDrawing */

const SIZE = { width: 800, height: 400 };
/** @param {FrameDrawing['kind']} kind @param {[number, number][]} points @param {string} [text] @returns {FrameDrawing} */
const drawing = (kind, points, text = '') => ({ id: kind, at_us: 0, rally: '', kind, points, text });

test('every kind becomes shapes inside the picture', () => {
  for (const kind of /** @type {FrameDrawing['kind'][]} */ (Object.keys(KINDS))) {
    const points = /** @type {[number, number][]} */ ([[0.2, 0.2], [0.5, 0.5], [0.8, 0.2]].slice(0, KINDS[kind].points || 3));
    const shapes = shapesOf(drawing(kind, points, kind === 'text' ? 'wide' : ''), SIZE);
    assert.ok(shapes.length > 0, kind);
    assert.ok(!JSON.stringify(shapes).includes('NaN'), kind);
  }
});

test('words at the edge stay in the picture', () => {
  const [plate, words] = shapesOf(drawing('text', [[0.99, 0.0]], 'out of reach'), SIZE);
  assert.ok(Number(plate.attributes.x) + Number(plate.attributes.width) <= SIZE.width);
  assert.ok(Number(words.attributes.y) >= 18);
});

test('the angle is that between the arms, the short way round', () => {
  assert.equal(degreesOf([[1, 0], [0, 0], [0, 1]]), 90);
  assert.equal(degreesOf([[1, 0.0001], [0, 0], [-1, -0.0001]]), 180);
  assert.equal(degreesOf([[-1, -0.1], [0, 0], [-1, 0.1]]), 11);
});

test('an unfinished piece has no error', () => {
  assert.deepEqual(shapesOf(drawing('angle', [[0.5, 0.5]]), SIZE).length, 2);
  assert.deepEqual(shapesOf(drawing('line', []), SIZE), []);
});

test('a press means the piece under it, the last one of several', () => {
  const pieces = [drawing('line', [[0, 0.5], [1, 0.5]]), drawing('circle', [[0.5, 0.5], [0.6, 0.5]]), drawing('text', [[0.1, 0.9]], 'hi')];
  assert.equal(pieceAt(pieces, [0.2, 0.51], SIZE)?.kind, 'line');
  assert.equal(pieceAt(pieces, [0.5, 0.7], SIZE)?.kind, 'circle');
  assert.equal(pieceAt(pieces, [0.12, 0.88], SIZE)?.kind, 'text');
  assert.equal(pieceAt(pieces, [0.2, 0.2], SIZE), undefined);
});

test('a long path is thinned and keeps its ends', () => {
  const path = Array.from({ length: 5000 }, (_, n) => /** @type {[number, number]} */ ([n / 5000, 0.5]));
  const thin = thinned(path);
  assert.equal(thin.length, 200);
  assert.deepEqual([thin[0], thin[199]], [path[0], path[4999]]);
});

test('undo does the opposite of each step, the last one first', () => {
  const history = new DrawingHistory();
  history.note('added', drawing('line', []));
  history.note('removed', drawing('text', []));
  assert.deepEqual([history.undo()?.act, history.undo()?.act, history.undo()], ['add', 'remove', undefined]);
});

test('the picture lies between its black bars', () => {
  assert.deepEqual(contentBox({ width: 800, height: 400 }, { width: 400, height: 400 }), { x: 200, y: 0, width: 400, height: 400 });
  assert.deepEqual(contentBox({ width: 800, height: 400 }, { width: 0, height: 0 }), { x: 0, y: 0, width: 800, height: 400 });
});

test('drawings of the coach stay hidden while the page says so, apart from what is drawn in this visit', async () => {
  const { DrawingBoard } = await import('../../src/goodlength/web/static/js/lib/player/drawing-board.js');
  const history = new DrawingHistory();
  const pieces = [drawing('arrow', [[0, 0], [1, 1]]), drawing('text', [[0, 0]], 'High'), drawing('line', [[0, 0], [1, 1]])];
  history.note('added', pieces[2]);
  const player = { playing: false, nowUs: 0, partAt: () => ({ id: 'f' }), tables: new Map() };
  let all = false;
  const board = { controls: { page: { showsDrawings: () => all } }, history, drawings: pieces };
  const view = /** @type {any} */ ({ player, turned: false });
  const shown = () => DrawingBoard.prototype.ofFrame.call(/** @type {any} */ (board), view).map(({ id }) => id);
  assert.deepEqual(shown(), ['line']);
  all = true;
  assert.deepEqual(shown(), ['arrow', 'text', 'line']);
  board.controls.page = /** @type {any} */ ({});
  assert.deepEqual(shown(), ['arrow', 'text', 'line']);
});

test('on a page that measures, drawings are shown only when asked for or drawn on', () => {
  assert.equal(areDrawingsShown({ hidden: true, wanted: false, drawing: false }), false);
  assert.equal(areDrawingsShown({ hidden: true, wanted: true, drawing: false }), true);
  assert.equal(areDrawingsShown({ hidden: true, wanted: false, drawing: true }), true);
  assert.equal(areDrawingsShown({ hidden: false, wanted: false, drawing: false }), true);
});
