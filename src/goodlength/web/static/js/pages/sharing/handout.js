// @ts-check
/* The handout page: the page to be printed changes beside the words while they are written. */

import { el, need } from '../../lib/page/dom.js';
import { fitSheet } from '../../lib/page/sheet-fit.js';
import { ask, failureWords } from '../../lib/server/json-requests.js';
import { newestRequest } from '../../lib/server/newest-request.js';

/** @typedef {import('../../lib/server/message-types.js').HandoutPreview} HandoutPreview */

const PAUSE_MS = 120;
const WIDE = 802; // px of the frame: over 800 the page is laid out for paper, not for a phone

const form = /** @type {HTMLFormElement} */ (need('#handout-form'));
const frame = /** @type {HTMLIFrameElement} */ (need('#sheet'));
const preview = need('#sheet-preview');
const viewport = need('.sheet-window');
const print = /** @type {HTMLButtonElement} */ (need('#print'));
const enlarge = need('#enlarge');
const language = /** @type {HTMLSelectElement} */ (need('#handout-language'));
const refused = print.disabled;

/** @type {HandoutPreview | null} */
let shown = null;
let touched = false;

const update = newestRequest({
  /** @param {URLSearchParams} fields */
  ask: async (fields) => /** @type {HandoutPreview} */ (await ask(form.dataset.preview ?? '', { fields })),
  show: (answer) => show(answer),
  stale: (stale) => preview.classList.toggle('stale', stale),
  fail: (problem) => sayFit(failureWords(problem, 'The preview is not up to date: goodlength does not answer. Is it still running?')),
});

/** @param {HandoutPreview} answer */
function show(answer) {
  const sheet = frame.contentDocument;
  if (!sheet?.querySelector('main')) return;
  shown = answer;
  sheet.body.innerHTML = answer.body;
  sheet.title = answer.title;
  sheet.documentElement.lang = answer.language;
  sheet.documentElement.dir = answer.direction;
  need('#faults').replaceChildren(...answer.faults.map((fault) => el('p', {}, fault)));
  layOut();
}

function layOut() {
  const sheet = frame.contentDocument;
  if (!sheet || !shown) return;
  const fit = fitSheet(sheet, new FormData(form).has('back'));
  untickByDefault(fit);
  print.disabled = refused || shown.faults.length > 0 || fit.overMm > 0;
  sayFit(fitWords(fit));
  resize();
  document.documentElement.dataset.ready = 'handout';
}

/** Untick what the page came with ticked and has no room for. @param {import('../../lib/page/sheet-fit.js').Fit} fit */
function untickByDefault(fit) {
  if (touched) return;
  for (const [name, left] of Object.entries({ stills: fit.withoutStills, turning: fit.withoutTurning })) {
    const box = /** @type {HTMLInputElement | null} */ (form.querySelector(`[name=${name}]`));
    if (box && left) box.checked = false;
  }
}

/** @param {import('../../lib/page/sheet-fit.js').Fit} fit */
function fitWords(fit) {
  if (fit.overMm > 0) return `About ${fit.overMm} mm too long for ${fit.pages === 2 ? 'two pages' : 'one page'}. Shorten your words or the findings.`;
  const asked = new FormData(form);
  const missing = [
    fit.withoutStills && asked.has('stills') ? 'the stills' : '',
    fit.withoutTurning && asked.has('turning') ? 'the chart' : '',
    fit.withoutDrills ? 'every drill' : '',
  ].filter(Boolean);
  const pages = fit.pages === 2 ? 'Fits on front and back' : 'Fits on one page';
  return `${pages}, type ${fit.typePt} pt.${missing.length ? ` No room for ${missing.join(' and ')}.` : ''}`;
}

/** @param {string} words */
function sayFit(words) {
  const place = need('#fit');
  if (place.textContent !== words) place.textContent = words;
}

/** Show the page as wide as its place, or as large as on paper. */
function resize() {
  const high = frame.contentDocument?.documentElement.scrollHeight ?? 0;
  const large = viewport.classList.contains('large');
  const scale = large ? 1 : Math.min(1, viewport.clientWidth / WIDE);
  frame.style.width = `${WIDE}px`;
  frame.style.height = `${high}px`;
  frame.style.transform = scale === 1 ? '' : `scale(${scale})`;
  viewport.style.height = large ? '' : `${Math.ceil(high * scale) + 2}px`;
}

/** @type {ReturnType<typeof setTimeout> | undefined} */
let pause;
function soon() {
  clearTimeout(pause);
  pause = setTimeout(() => {
    const fields = new URLSearchParams();
    for (const [name, value] of new FormData(form)) fields.append(name, String(value));
    update(fields);
  }, PAUSE_MS);
}

form.addEventListener('input', (event) => {
  touched = true;
  if (event.target !== language) soon();
});
language.addEventListener('change', () => form.requestSubmit(need('#use-language')));
print.addEventListener('click', () => frame.contentWindow?.print());
enlarge.addEventListener('click', () => {
  const large = viewport.classList.toggle('large');
  enlarge.setAttribute('aria-pressed', String(large));
  resize();
});
frame.addEventListener('load', soon);
addEventListener('resize', resize);
need('#use-language').hidden = true;
print.hidden = enlarge.hidden = false;
if (frame.contentDocument?.querySelector('main')) soon();
