// @ts-check
/* Aim: an answer for each change, and the aim moved on the front wall by pointer or arrow keys. */

import { need } from '../../lib/page/dom.js';

const form = /** @type {HTMLFormElement} */ (need('#ask'));
const answer = need('#answer');
const state = need('#state');
const STEP_M = 0.05;
const STEP_KM_H = 2;
const KM_H = 3.6; // one m/s, in km/h
let asked = 0;
/** @type {number | undefined} */
let due;

/** What the form asks, and an aim of one's own if given. @param {Record<string, string>} [own] */
function question(own) {
  const query = new URLSearchParams();
  for (const [name, value] of new FormData(form)) if (typeof value === 'string') query.append(name, value);
  for (const [name, value] of Object.entries(own ?? {})) query.set(name, value);
  return query;
}

/** Ask, and put the answer in its place. @param {Record<string, string>} [own] @param {string} [focus] */
async function work(own, focus) {
  const mine = ++asked;
  const query = question(own);
  state.textContent = 'Calculating…';
  answer.classList.add('waits');
  try {
    const got = await fetch(`/aim/answer?${query}`);
    const html = await got.text();
    if (mine !== asked) return;
    answer.innerHTML = html;
    history.replaceState(null, '', `/aim?${query}`);
    state.textContent = got.ok ? 'Calculated.' : '';
    ready();
    if (focus) /** @type {HTMLElement | null} */ (document.querySelector(focus))?.focus({ preventScroll: true });
  } catch {
    if (mine === asked) state.textContent = 'The connection dropped. Press “Calculate the target” again.';
  } finally {
    if (mine === asked) answer.classList.remove('waits');
  }
}

/** The aim shown now, from its fields; links carry its speed in m/s. */
function here() {
  const value = (/** @type {string} */ name) => Number(/** @type {HTMLInputElement} */ (need(`#f-${name}`)).value.replace(',', '.'));
  return { across: value('across'), above: value('above'), pace: value('speed') / KM_H };
}

/** @param {{across: number, above: number, pace: number}} aim */
const texts = (aim) => ({ across: aim.across.toFixed(2), above: aim.above.toFixed(2), pace: aim.pace.toFixed(3) });

/** The fields that show an aim; speed in km/h. @param {{across: number, above: number, pace: number}} aim */
const shown = (aim) => ({ across: aim.across.toFixed(2), above: aim.above.toFixed(2), speed: (aim.pace * KM_H).toFixed(0) });

/** @param {{across: number, above: number, pace: number}} aim */
const clamped = (aim) => ({
  across: Math.min(Math.max(aim.across, 0.2), 6.2),
  above: Math.min(Math.max(aim.above, 0.05), 2.7),
  pace: Math.min(Math.max(aim.pace, 8), 60),
});

let flying = false;
/** @type {{across: number, above: number, pace: number} | null} */
let next = null;

/** Draw the path of an aim at once; while one is on its way, only the newest waits. @param {{across: number, above: number, pace: number}} aim */
async function draw(aim) {
  for (const [name, value] of Object.entries(shown(aim))) /** @type {HTMLInputElement} */ (need(`#f-${name}`)).value = value;
  next = aim;
  if (flying) return;
  flying = true;
  while (next) {
    const now = next;
    next = null;
    const got = await fetch(`/aim/path?${question(texts(now))}`).catch(() => null);
    const court = document.querySelector('#court');
    if (got?.ok && court) court.innerHTML = await got.text();
    else if (got) state.textContent = (await got.json().catch(() => null))?.error?.words ?? '';
  }
  flying = false;
}

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
  let moving = false;
  court.addEventListener('pointerdown', (event) => {
    const at = onWall(/** @type {PointerEvent} */ (event));
    if (!at) return;
    moving = true;
    court.classList.add('moving');
    court.setPointerCapture(/** @type {PointerEvent} */ (event).pointerId);
    event.preventDefault();
    void draw(clamped({ ...here(), ...at }));
  });
  court.addEventListener('pointermove', (event) => {
    const at = moving ? onWall(/** @type {PointerEvent} */ (event)) : null;
    if (at) void draw(clamped({ ...here(), ...at }));
  });
  for (const name of ['pointerup', 'pointercancel']) {
    court.addEventListener(name, () => {
      if (!moving) return;
      moving = false;
      court.classList.remove('moving');
      void work(texts(here()), '#court');
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
    const to = clamped(aim);
    void draw(to);
    clearTimeout(due);
    due = setTimeout(() => void work(texts(to), '#court'), 500);
  });
  need('#own').addEventListener('submit', (event) => {
    event.preventDefault();
    const own = here();
    void work(Object.values(own).every(Number.isFinite) ? texts(own) : fields(), '#own button');
  });
  document.querySelector('#best')?.addEventListener('click', () => void work(undefined, '#court'));
}

/** The fields as written, for the server to say what is wrong with them. */
function fields() {
  return Object.fromEntries(['across', 'above', 'speed'].map((name) => [name, /** @type {HTMLInputElement} */ (need(`#f-${name}`)).value]));
}

form.addEventListener('submit', (event) => {
  event.preventDefault();
  clearTimeout(due);
  void work();
});
form.addEventListener('change', (event) => {
  const { name } = /** @type {HTMLInputElement} */ (event.target);
  if (name === 'player' || name === 'level') forget('scatter');
  if (name === 'player') forget('hand');
  if (name === 'kind' || name === 'box' || name === 'hand') for (const field of form.querySelectorAll('details input')) forget(/** @type {HTMLInputElement} */ (field).name);
  clearTimeout(due);
  due = setTimeout(() => {
    if (name === 'player' || name === 'level' || name === 'kind' || name === 'box' || name === 'hand') location.assign(`/aim?${question()}`);
    else void work();
  }, 250);
});

/** Leave a field out of the question, so that the usual value holds. @param {string} name */
function forget(name) {
  for (const field of form.querySelectorAll(`[name="${name}"]`)) field.setAttribute('form', 'left-out');
}

need('#scatter').addEventListener('input', () => {
  need('#scatter-cm').textContent = `${/** @type {HTMLInputElement} */ (need('#scatter')).value} cm`;
});
ready();
document.documentElement.dataset.ready = 'aim';
