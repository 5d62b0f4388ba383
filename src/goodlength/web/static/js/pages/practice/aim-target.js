// @ts-check
/* Aim: figures that follow while the target is moved or a value is changed, and the map of the front wall. */

import { need } from '../../lib/page/dom.js';
import { newestRequest } from '../../lib/server/newest-request.js';

/** @typedef {{across: number, above: number, pace: number}} Target */
/** @typedef {{query: URLSearchParams, focus?: string}} Question */

const form = /** @type {HTMLFormElement} */ (need('#ask'));
const answer = need('#answer');
const state = need('#state');
const STEP_M = 0.05;
const STEP_KM_H = 2;
const KM_H = 3.6; // one m/s, in km/h
const RESTS_MS = 400;
const MAP_AFTER_MS = 350;
/** @type {number | undefined} */
let due;
/** @type {number | undefined} */
let mapDue;

/** What the form asks, and a target of one's own if given. @param {Record<string, string>} [own] */
function question(own) {
  const query = new URLSearchParams();
  for (const [name, value] of new FormData(form)) if (typeof value === 'string') query.append(name, value);
  for (const [name, value] of Object.entries(own ?? {})) query.set(name, value);
  return query;
}

const askFigures = newestRequest({
  ask: async (/** @type {Question} */ { query }) => {
    const got = await fetch(`/aim/answer?${query}`);
    return { ok: got.ok, html: await got.text() };
  },
  show: ({ ok, html }, newest, { query, focus }) => {
    const shown = put(html, newest);
    if (!newest) return;
    answer.classList.toggle('waits', !shown);
    answer.classList.toggle('moving', query.has('moving'));
    if (!ok || query.has('moving')) return;
    state.textContent = 'Calculated.';
    history.replaceState(null, '', `/aim?${query}`);
    if (focus) /** @type {HTMLElement | null} */ (document.querySelector(focus))?.focus({ preventScroll: true });
    drawMapSoon();
  },
  stale: (stale) => {
    answer.classList.toggle('waits', stale);
    if (stale) state.textContent = 'Calculating…';
  },
  fail: () => {
    state.textContent = 'The connection dropped. Press “Calculate the target” again.';
  },
});

/** Ask for the figures; without a target of one's own the best one is searched. @param {Record<string, string>} [own] @param {string} [focus] */
function work(own, focus) {
  clearTimeout(due);
  askFigures({ query: question(own), focus });
}

/** Put an answer in its place, part by part, so that what is dragged or typed in stays; false where it only says what is wrong. @param {string} html @param {boolean} newest */
function put(html, newest) {
  const got = new DOMParser().parseFromString(html, 'text/html');
  const parts = answer.querySelectorAll('[data-part]');
  answer.querySelector('[data-example]')?.remove();
  if (!got.querySelector('[data-part]') && parts.length) {
    if (newest) state.textContent = got.querySelector('.trouble')?.textContent ?? '';
    return false;
  }
  if (!parts.length) {
    answer.innerHTML = html;
    ready();
    return true;
  }
  for (const part of parts) {
    const fresh = got.querySelector(`[data-part="${/** @type {HTMLElement} */ (part).dataset['part']}"]`);
    // The path of a target that is still being moved is drawn by itself: an earlier one would jump back
    if (fresh && (newest || part.id !== 'court')) part.innerHTML = fresh.innerHTML;
  }
  if (newest) {
    need('#best').toggleAttribute('hidden', got.querySelector('#best')?.hasAttribute('hidden'));
    if (!moving && !document.activeElement?.matches('#own input[type="text"], #own input:not([type])')) for (const name of ['across', 'above', 'speed']) field(name).value = /** @type {HTMLInputElement | null} */ (got.querySelector(`#f-${name}`))?.value ?? field(name).value;
    need('#speed-range').setAttribute('value', field('speed').value);
    /** @type {HTMLInputElement} */ (need('#speed-range')).value = field('speed').value;
  }
  return true;
}

/** @param {string} name */
const field = (name) => /** @type {HTMLInputElement} */ (need(`#f-${name}`));

/** The target shown now, from its fields; links carry its speed in m/s. */
function here() {
  const value = (/** @type {string} */ name) => Number(field(name).value.replace(',', '.'));
  return { across: value('across'), above: value('above'), pace: value('speed') / KM_H };
}

/** The target of one's own that is shown, as the address has it; none where the best is shown. */
const ownShown = () => (document.querySelector('#best:not([hidden])') ? fields() : undefined);

/** @param {Target} aim */
const texts = (aim) => ({ across: aim.across.toFixed(2), above: aim.above.toFixed(2), pace: aim.pace.toFixed(3) });

/** The fields that show a target; speed in km/h. @param {Target} aim */
const shown = (aim) => ({ across: aim.across.toFixed(2), above: aim.above.toFixed(2), speed: (aim.pace * KM_H).toFixed(0) });

/** @param {Target} aim */
const clamped = (aim) => ({
  across: Math.min(Math.max(aim.across, 0.2), 6.2),
  above: Math.min(Math.max(aim.above, 0.05), 2.7),
  pace: Math.min(Math.max(aim.pace, 8), 60),
});

const askPath = newestRequest({
  ask: async (/** @type {Target} */ aim) => {
    const got = await fetch(`/aim/path?${question(texts(aim))}`);
    return { ok: got.ok, body: await got.text() };
  },
  show: ({ ok, body }, newest) => {
    const court = document.querySelector('#court > svg');
    if (ok && court) court.outerHTML = body;
    else if (newest) state.textContent = JSON.parse(body).error?.words ?? '';
  },
  stale: () => {},
  fail: () => {},
});

/** Move the target: its path at once, the figures as they come, the rest once it rests. @param {Target} aim */
function move(aim) {
  for (const [name, value] of Object.entries(shown(aim))) field(name).value = value;
  /** @type {HTMLInputElement} */ (need('#speed-range')).value = field('speed').value;
  askPath(aim);
  follow(texts(aim));
}

/** Ask for the figures alone, and for the rest once nothing moves. @param {Record<string, string>} [own] */
function follow(own) {
  askFigures({ query: question({ ...own, moving: '1' }) });
  clearTimeout(due);
  due = setTimeout(() => work(own), RESTS_MS);
}

const askMap = newestRequest({
  ask: async (/** @type {URLSearchParams} */ query) => {
    const got = await fetch(`/aim/map?${query}`);
    return { ok: got.ok, body: await got.text() };
  },
  show: ({ ok, body }, newest) => {
    const map = document.querySelector('#map');
    if (!map || !newest) return;
    if (ok) map.innerHTML = body;
    map.classList.toggle('waits', !ok);
    need('#map-state').textContent = ok ? '' : (JSON.parse(body).error?.words ?? '');
  },
  stale: (stale) => document.querySelector('#map')?.classList.toggle('waits', stale),
  fail: () => {
    need('#map-state').textContent = 'The connection dropped. Change a value to draw the map again.';
  },
});

/** Draw the map once nothing moves any more; until then the earlier one stays grey. */
function drawMapSoon() {
  const map = document.querySelector('#map');
  if (!map) return;
  map.classList.add('waits');
  clearTimeout(mapDue);
  mapDue = setTimeout(() => {
    const query = question(ownShown());
    query.set('compare', /** @type {HTMLSelectElement} */ (need('#compare')).value);
    askMap(query);
  }, MAP_AFTER_MS);
}

let moving = false;

/** Where a pointer is on the front wall, in metres; null beside it. @param {PointerEvent} event */
function onWall(event) {
  const svg = /** @type {SVGSVGElement | null} */ (document.querySelector('#court svg'));
  const turn = svg?.getScreenCTM()?.inverse();
  if (!svg || !turn) return null;
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(turn);
  if (at.x < 0 || at.x > 6400 || at.y > -1900 || at.y < -4570) return null;
  return { across: at.x / 1000, above: -at.y / 1000 - 1.83 };
}

function ready() {
  const court = document.querySelector('#court');
  if (!court) return;
  court.addEventListener('pointerdown', (event) => {
    const at = onWall(/** @type {PointerEvent} */ (event));
    if (!at) return;
    moving = true;
    court.classList.add('moving');
    court.setPointerCapture(/** @type {PointerEvent} */ (event).pointerId);
    event.preventDefault();
    move(clamped({ ...here(), ...at }));
  });
  court.addEventListener('pointermove', (event) => {
    const at = moving ? onWall(/** @type {PointerEvent} */ (event)) : null;
    if (at) move(clamped({ ...here(), ...at }));
  });
  for (const name of ['pointerup', 'pointercancel']) {
    court.addEventListener(name, () => {
      if (!moving) return;
      moving = false;
      court.classList.remove('moving');
      work(texts(here()), '#court');
    });
  }
  court.addEventListener('keydown', (event) => {
    const { key, shiftKey } = /** @type {KeyboardEvent} */ (event);
    const aim = here();
    if (key === 'ArrowLeft') aim.across -= STEP_M;
    else if (key === 'ArrowRight') aim.across += STEP_M;
    else if (key === 'ArrowUp' && shiftKey) aim.pace += STEP_KM_H / KM_H;
    else if (key === 'ArrowDown' && shiftKey) aim.pace -= STEP_KM_H / KM_H;
    else if (key === 'ArrowUp') aim.above += STEP_M;
    else if (key === 'ArrowDown') aim.above -= STEP_M;
    else return;
    event.preventDefault();
    move(clamped(aim));
  });
  need('#own').addEventListener('submit', (event) => {
    event.preventDefault();
    work(fields(), '#own button');
  });
  need('#speed-range').addEventListener('input', () => {
    move(clamped({ ...here(), pace: Number(/** @type {HTMLInputElement} */ (need('#speed-range')).value) / KM_H }));
  });
  need('#best').addEventListener('click', () => work(undefined, '#court'));
  need('#compare').addEventListener('change', drawMapSoon);
  drawMapSoon();
}

/** The fields as written, for the server to say what is wrong with them. */
function fields() {
  return Object.fromEntries(['across', 'above', 'speed'].map((name) => [name, field(name).value]));
}

form.addEventListener('submit', (event) => {
  event.preventDefault();
  work();
});
form.addEventListener('change', (event) => {
  const { name } = /** @type {HTMLInputElement} */ (event.target);
  if (name === 'scatter') return; // followed while it is moved
  if (name === 'player' || name === 'level') forget('scatter');
  if (name === 'player') forget('hand');
  if (name === 'kind' || name === 'box' || name === 'hand') for (const input of form.querySelectorAll('details input')) forget(/** @type {HTMLInputElement} */ (input).name);
  if (name === 'player' || name === 'level' || name === 'kind' || name === 'box' || name === 'hand') due = setTimeout(() => location.assign(`/aim?${question()}`), 250);
  else follow(ownShown());
});

/** Leave a field out of the question, so that the usual value holds. @param {string} name */
function forget(name) {
  for (const input of form.querySelectorAll(`[name="${name}"]`)) input.setAttribute('form', 'left-out');
}

need('#scatter').addEventListener('input', () => {
  need('#scatter-cm').textContent = `${/** @type {HTMLInputElement} */ (need('#scatter')).value} cm`;
  if (document.querySelector('#court')) follow(ownShown());
});
ready();
if (answer.hasAttribute('data-opens')) work();
document.documentElement.dataset.ready = 'aim';
