// @ts-check
/* The Footage page: copying a file in with progress, watching a copy being made, and times of rallies. */

import { ask, failureWords, libraryHeader, newId } from '../../lib/server/json-requests.js';
import { need } from '../../lib/page/dom.js';
import { drawTimeline } from '../../lib/video/rally-timeline.js';
import { watch } from '../../lib/server/job-progress.js';
import { clockWords, readTime, tickWords } from '../../lib/page/time-and-score-format.js';

const matchId = need('#main').dataset.match ?? '';
const MATCH = `/api/matches/${encodeURIComponent(matchId)}`;

// ---- a file copied in

const form = need('#upload');
const bar = /** @type {HTMLProgressElement} */ (need('#upload-bar'));
const words = need('#upload-words');
const stop = need('#upload-stop');
form.addEventListener('submit', (event) => {
  event.preventDefault();
  const file = /** @type {HTMLInputElement} */ (need('#f-upload')).files?.[0];
  if (file) copyIn(file);
});

const typed = document.querySelector('.form-paper form');
typed?.addEventListener('submit', () => {
  need('#path-words').textContent = 'Checking the file. A new file is watched for up to 15 seconds, in case it is still being copied.';
});

/** @param {File} file */
function copyIn(file) {
  const sending = new XMLHttpRequest();
  sending.open('POST', `${MATCH}/footage/upload?name=${encodeURIComponent(file.name)}`);
  sending.setRequestHeader('content-type', 'application/octet-stream');
  for (const [name, value] of Object.entries(libraryHeader())) sending.setRequestHeader(name, value);
  sending.upload.addEventListener('progress', (event) => {
    if (!event.lengthComputable) return;
    bar.value = event.loaded / event.total;
    words.textContent = event.loaded < event.total ? `${Math.floor(bar.value * 100)}%` : 'Checking the file';
  });
  const over = (/** @type {string} */ text) => {
    bar.hidden = true;
    stop.hidden = true;
    words.textContent = text;
  };
  sending.addEventListener('load', () => {
    const answer = readJson(sending.responseText);
    if (sending.status < 300) location.assign(`/matches/${encodeURIComponent(matchId)}/footage`);
    else over(answer?.error?.words ?? `The server answered ${sending.status}. Nothing was saved.`);
  });
  sending.addEventListener('error', () => over('The connection dropped. Nothing was saved. Upload the file again.'));
  sending.addEventListener('abort', () => over('Stopped. Nothing was saved.'));
  stop.onclick = () => sending.abort();
  bar.hidden = false;
  stop.hidden = false;
  bar.value = 0;
  sending.send(file);
}

/** @param {string} text */
function readJson(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

// ---- copies being made

for (const box of document.querySelectorAll('[data-job]')) void watch(/** @type {HTMLElement} */ (box));

// ---- rallies heard, over the whole match

const whole = document.querySelector('#whole-timeline');
if (whole) void drawWhole(/** @type {SVGElement} */ (whole));

/** @param {SVGElement} timeline */
async function drawWhole(timeline) {
  const [found, files] = /** @type {[import('../../lib/server/message-types.js').DetectedRallies, import('../../lib/server/message-types.js').Files]} */ (
    await Promise.all([ask(`${MATCH}/heard`), ask(`${MATCH}/films`)])
  );
  const ends = files.parts.map((part) => part.starts_us + part.end_us - part.first_us);
  drawTimeline(
    timeline,
    {
      from_us: 0,
      to_us: Math.max(...ends),
      current: null,
      recorded: found.rallies.filter((rally) => rally.state === 'kept'),
      proposed: found.rallies.filter((rally) => rally.state === ''),
    },
    tickWords,
  );
}

// ---- times of rallies

const spanState = document.querySelector('#span-state');
const observer = `coach-page/${newId().slice(0, 8)}`;
for (const row of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll('.spans tr[data-rally]'))) {
  for (const field of row.querySelectorAll('input')) field.addEventListener('change', () => keepSpan(row));
}

/** @param {HTMLElement} row */
async function keepSpan(row) {
  const value = (/** @type {string} */ name) => /** @type {HTMLInputElement} */ (need(`input.${name}`, row)).value;
  const [start, end] = [readTime(value('start')), value('end').trim() === '' ? null : readTime(value('end'))];
  const say = (/** @type {string} */ text) => {
    if (spanState) spanState.textContent = text;
  };
  if (start === null || (end === null && value('end').trim() !== '')) return say('Enter minutes and seconds, such as 31:14.6. Nothing was changed.');
  if (end !== null && end <= start) return say('A rally must end after it starts. Nothing was changed.');
  try {
    /** @type {import('../../lib/server/message-types.js').SpanIn} */
    const body = { id: newId(), tab: observer, rally: row.dataset.rally ?? '', start_us: start, end_us: end, replaces: row.dataset.replaces || null };
    const answer = /** @type {import('../../lib/server/message-types.js').StoredSpan} */ (await ask(`${MATCH}/span`, { body }));
    row.dataset.replaces = answer.id;
    need('.length', row).textContent = end === null ? '' : `${((end - start) / 1e6).toFixed(1)} s`;
    need('.how', row).textContent = 'marked';
    return say(`Kept: ${clockWords(start)}${end === null ? '' : ` to ${clockWords(end)}`}.`);
  } catch (error) {
    return say(failureWords(error, 'The connection dropped. Nothing was changed; try again.'));
  }
}
document.documentElement.dataset.ready = 'footage';
