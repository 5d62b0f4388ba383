// @ts-check
/* What is drawn on a frame: which points a kind needs, what it looks like, and undoing it. No element of a page here. */

/** @typedef {import('../server/message-types.js').FrameDrawing} FrameDrawing @typedef {FrameDrawing['kind']} Kind @typedef {[number, number]} Point */
/** @typedef {{tag: string, attributes: Record<string, string | number>, text?: string}} Shape @typedef {{width: number, height: number}} Size */

/** @type {Record<Kind, {name: string, points: number, hint: string}>} how many points a kind needs; 0 for a path */
export const KINDS = {
  line: { name: 'Line', points: 2, hint: 'Drag from one end to the other.' },
  arrow: { name: 'Arrow', points: 2, hint: 'Drag from the start to the tip.' },
  angle: { name: 'Angle', points: 3, hint: 'Press one arm, the corner, the other arm.' },
  circle: { name: 'Circle', points: 2, hint: 'Drag from the centre outwards.' },
  freehand: { name: 'Freehand', points: 0, hint: 'Draw with the pointer held down. By keys: Enter sets points, T ends the path.' },
  text: { name: 'Text', points: 1, hint: 'Type the words, then press where they go.' },
  spotlight: { name: 'Spotlight', points: 2, hint: 'Drag from the centre outwards.' },
};

/**
 * Whether the drawings lie over the picture: not on a page that measures, unless asked for there or drawn on.
 * @param {{hidden: boolean, wanted: boolean, drawing: boolean}} page
 */
export const areDrawingsShown = ({ hidden, wanted, drawing }) => !hidden || wanted || drawing;

const MOST_PATH = 200;
const NEAR_PX = 18; // a press this near a piece means it

/** @param {Point[]} points @param {Size} size @returns {Point[]} in px */
const inPixels = (points, size) => points.map(([x, y]) => [x * size.width, y * size.height]);

/** @param {Point} a @param {Point} b */
const distance = ([ax, ay], [bx, by]) => Math.hypot(ax - bx, ay - by);

/** @param {Point[]} points */
const path = (points) => points.map(([x, y], n) => `${n ? 'L' : 'M'}${x.toFixed(1)} ${y.toFixed(1)}`).join('');

/**
 * A piece as shapes, spotlights first so that the rest lies above their shade.
 * @param {FrameDrawing} drawing @param {Size} size of the picture, px @returns {Shape[]}
 */
export function shapesOf(drawing, size) {
  const points = inPixels(/** @type {Point[]} */ (drawing.points), size);
  if (points.length === 0) return [];
  if (drawing.kind === 'text') return plate(points[0], drawing.text, size);
  if (drawing.kind === 'spotlight') return spotlight(points, size);
  if (drawing.kind === 'angle' && points.length === 3) return angle(points, size);
  const d = drawing.kind === 'circle' ? ring(points[0], distance(points[0], points[points.length - 1])) : path(points) + (drawing.kind === 'arrow' ? barbs(points) : '');
  return stroke(d);
}

/** @param {string} d @returns {Shape[]} */
const stroke = (d) => [
  { tag: 'path', attributes: { class: 'case', d } },
  { tag: 'path', attributes: { class: 'ink', d } },
];

/** @param {Point} centre @param {number} radius */
function ring([x, y], radius) {
  const r = radius.toFixed(1);
  return `M${(x - radius).toFixed(1)} ${y.toFixed(1)}a${r} ${r} 0 1 0 ${(2 * radius).toFixed(1)} 0a${r} ${r} 0 1 0 ${(-2 * radius).toFixed(1)} 0Z`;
}

/** @param {Point[]} points */
function barbs(points) {
  const [from, tip] = [points[0], points[points.length - 1]];
  const away = Math.atan2(from[1] - tip[1], from[0] - tip[0]);
  const barb = (/** @type {number} */ turn) => `${(tip[0] + 18 * Math.cos(away + turn)).toFixed(1)} ${(tip[1] + 18 * Math.sin(away + turn)).toFixed(1)}`;
  return `M${barb(0.45)}L${tip[0].toFixed(1)} ${tip[1].toFixed(1)}L${barb(-0.45)}`;
}

/** @param {Point[]} points @param {Size} size @returns {Shape[]} */
function spotlight(points, { width, height }) {
  const radius = Math.max(4, distance(points[0], points[points.length - 1]));
  return [{ tag: 'path', attributes: { class: 'shade', 'fill-rule': 'evenodd', d: `M0 0H${width}V${height}H0Z${ring(points[0], radius)}` } }];
}

/** @param {Point[]} points @param {Size} size @returns {Shape[]} */
function angle(points, size) {
  const [a, corner, b] = points;
  const [x, y] = corner;
  const turn = Math.atan2((a[0] - x) * (b[1] - y) - (a[1] - y) * (b[0] - x), (a[0] - x) * (b[0] - x) + (a[1] - y) * (b[1] - y));
  const end = (/** @type {Point} */ arm) => {
    const long = distance(arm, corner) || 1;
    return `${(x + (28 * (arm[0] - x)) / long).toFixed(1)} ${(y + (28 * (arm[1] - y)) / long).toFixed(1)}`;
  };
  const arc = `M${end(a)}A28 28 0 0 ${turn > 0 ? 1 : 0} ${end(b)}`;
  return [...stroke(path(points) + arc), ...plate([x + 32, y - 12], `${degreesOf(points)}°`, size)];
}

/** The angle at the corner, in whole degrees. @param {Point[]} points in px */
export function degreesOf([a, corner, b]) {
  const arms = [a, b].map((arm) => Math.atan2(arm[1] - corner[1], arm[0] - corner[0]));
  const between = Math.abs(arms[0] - arms[1]);
  return Math.round((Math.min(between, 2 * Math.PI - between) * 180) / Math.PI);
}

/** @type {CanvasRenderingContext2D | null | undefined} */
let measuring;

/** How wide words are on a plate, in px; a rough width where nothing can be measured. @param {string} words */
export function widthOf(words) {
  if (measuring === undefined) {
    measuring = typeof document === 'undefined' ? null : document.createElement('canvas').getContext('2d');
  }
  if (!measuring) return 9.5 * words.length;
  measuring.font = `700 17px ${getComputedStyle(document.body).fontFamily}`;
  return measuring.measureText(words).width;
}

/** Words on a plate, moved in where they would run out of the picture. @param {Point} at @param {string} words @param {Size} size @returns {Shape[]} */
function plate([x, y], words, { width, height }) {
  const wide = widthOf(words) + 12;
  const left = Math.max(6, Math.min(x, width - wide - 2));
  const base = Math.max(22, Math.min(y, height - 8));
  return [
    { tag: 'rect', attributes: { class: 'plate', x: left - 6, y: base - 18, width: wide, height: 25 } },
    { tag: 'text', attributes: { x: left, y: base }, text: words },
  ];
}

/** A path with at most so many points, its ends kept. @param {Point[]} points @returns {Point[]} */
export function thinned(points) {
  if (points.length <= MOST_PATH) return points;
  return Array.from({ length: MOST_PATH }, (_, n) => points[Math.round((n * (points.length - 1)) / (MOST_PATH - 1))]);
}

/** The piece pressed, the last one of several. @param {FrameDrawing[]} drawings @param {Point} at share @param {Size} size */
export function pieceAt(drawings, at, size) {
  const [press] = inPixels([at], size);
  return drawings.findLast((drawing) => nearest(drawing, press, size) <= NEAR_PX);
}

/** @param {FrameDrawing} drawing @param {Point} press @param {Size} size */
function nearest(drawing, press, size) {
  const points = inPixels(/** @type {Point[]} */ (drawing.points), size);
  if (drawing.kind === 'text') {
    const [x, y] = points[0];
    const across = Math.max(x - 6 - press[0], press[0] - (x + widthOf(drawing.text) + 6), 0);
    return Math.hypot(across, Math.max(y - 18 - press[1], press[1] - y - 7, 0));
  }
  if (drawing.kind === 'circle' || drawing.kind === 'spotlight') return Math.abs(distance(points[0], points[1]) - distance(points[0], press));
  return Math.min(...points.slice(1).map((point, n) => toSegment(press, points[n], point)));
}

/** @param {Point} press @param {Point} a @param {Point} b */
function toSegment(press, a, b) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const along = Math.max(0, Math.min(1, ((press[0] - a[0]) * dx + (press[1] - a[1]) * dy) / (dx * dx + dy * dy || 1)));
  return distance(press, [a[0] + along * dx, a[1] + along * dy]);
}

/** What was done, so that it can be undone in the opposite order. */
export class DrawingHistory {
  constructor() {
    /** @type {{done: 'added' | 'removed', drawing: FrameDrawing}[]} */
    this.steps = [];
  }

  /** @param {'added' | 'removed'} done @param {FrameDrawing} drawing */
  note(done, drawing) {
    this.steps.push({ done, drawing });
  }

  /** Whether a piece was drawn in this visit. @param {string} id */
  added(id) {
    return this.steps.some(({ done, drawing }) => done === 'added' && drawing.id === id);
  }

  /** What must be done to undo the last step; undefined where nothing was done. @returns {{act: 'add' | 'remove', drawing: FrameDrawing} | undefined} */
  undo() {
    const last = this.steps.pop();
    return last && { act: last.done === 'added' ? 'remove' : 'add', drawing: last.drawing };
  }
}
