// @ts-check
/* Clips shown to the player: the clip plays without a word, the question stands, the cue comes when asked for. */

import { ask } from '../../lib/server/json-requests.js';
import { need } from '../../lib/page/dom.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';

const begin = /** @type {import('../../lib/server/message-types.js').ReviewPage} */ (JSON.parse(need('#main').dataset.begin ?? '{}'));
const { items } = begin;
const { parts } = /** @type {import('../../lib/server/message-types.js').Files} */ (await ask(`/api/matches/${encodeURIComponent(begin.match)}/films`));
const player = new VideoPlayer(need('#frame'), parts, whilePlaying);
let at = 0;
let cueShown = false;

/** @param {number} to */
function open(to) {
  at = to;
  cueShown = false;
  draw();
  again();
}

function again() {
  player.seek(items[at].start_us, true);
}

function whilePlaying() {
  if (player.playing && player.nowUs >= items[at].end_us) player.pause();
  need('#trouble').hidden = player.problems.length === 0;
  if (player.problems.length) need('#trouble').textContent = 'This browser cannot play the video. Make a copy on the Footage page.';
}

function draw() {
  const item = items[at];
  const last = at === items.length - 1;
  need('#caption').textContent = `${at + 1} of ${items.length}`;
  need('#cue').hidden = !cueShown;
  need('#cue').textContent = `${item.role === 'good' ? 'Keep' : 'Improve'}${item.cue ? `: ${item.cue}` : '.'}`;
  need('#ask').textContent = cueShown ? (item.role === 'good' ? 'Keep this.' : 'What will you try?') : 'What do you see?';
  need('#on').textContent = cueShown ? (last ? 'Done' : 'Next clip') : 'Show the cue';
  /** @type {HTMLButtonElement} */ (need('#back')).disabled = at === 0;
}

function on() {
  if (!cueShown) cueShown = true;
  else if (at < items.length - 1) return open(at + 1);
  else return location.assign(`/matches/${encodeURIComponent(begin.match)}/talk#done`);
  return draw();
}

need('#on').addEventListener('click', on);
need('#again').addEventListener('click', again);
need('#slow').addEventListener('click', () => player.nextSpeed());
need('#back').addEventListener('click', () => open(at - 1));
document.addEventListener('keydown', (event) => {
  if (event.target instanceof HTMLElement && event.target.closest('button, a')) return;
  if (event.key === 'Enter') on();
  else if (event.key === ' ') player.toggle();
  else return;
  event.preventDefault();
});
open(0);
document.documentElement.dataset.ready = 'video-review';
