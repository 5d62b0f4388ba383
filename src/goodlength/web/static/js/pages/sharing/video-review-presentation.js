// @ts-check
/* Clips shown to the player: the clip plays without a word, the question stands, the cue comes when asked for. */

import { ask } from '../../lib/server/json-requests.js';
import { need } from '../../lib/page/dom.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';

const begin = /** @type {import('../../lib/server/message-types.js').ReviewPage} */ (JSON.parse(need('#main').dataset.begin ?? '{}'));
const { items } = begin;
const { parts } = /** @type {import('../../lib/server/message-types.js').Files} */ (await ask(`/api/matches/${encodeURIComponent(begin.match)}/films`));
const player = new VideoPlayer(need('#frame'), parts, whilePlaying);
const TWO_SECONDS = 2_000_000;
const AROUND_US = 1_000_000; // of the timeline before and after the clip
let at = 0;
let stops = true; // where the clip ends
let cueShown = false;

/** @param {number} to */
function open(to) {
  at = to;
  cueShown = false;
  draw();
  again();
}

function again() {
  stops = true;
  player.loop = null;
  player.seek(items[at].start_us, true);
}

function whilePlaying() {
  if (player.playing && stops && !player.loop && player.nowUs >= items[at].end_us) {
    stops = false;
    player.pause();
  }
  need('#trouble').hidden = player.problems.length === 0;
  if (player.problems.length) need('#trouble').textContent = 'This browser cannot play the video. Make a copy on the Footage page.';
}

function draw() {
  const item = items[at];
  const last = at === items.length - 1;
  need('#which').textContent = `Clip ${at + 1} of ${items.length}`;
  const cue = item.role === 'good' ? item.cue : `Improve${item.cue ? `: ${item.cue}` : '.'}`; // "Keep this." stands above it
  need('#cue').hidden = !cueShown || !cue;
  need('#cue').textContent = cue;
  need('#ask').textContent = cueShown ? (item.role === 'good' ? 'Keep this.' : 'What will you try?') : 'What do you see?';
  need('#on').textContent = cueShown ? (last ? 'Done' : 'Next clip') : 'Show the cue';
  /** @type {HTMLButtonElement} */ (need('#back')).disabled = at === 0;
  controls.draw();
}

function on() {
  if (!cueShown) cueShown = true;
  else if (at < items.length - 1) return open(at + 1);
  else return location.assign(`/matches/${encodeURIComponent(begin.match)}/talk#done`);
  return draw();
}

const controls = new PlayerControls(player, {
  match: begin.match,
  rally: () => items[at],
  window: () => ({ start_us: Math.max(0, items[at].start_us - AROUND_US), end_us: Math.min(player.endUs, items[at].end_us + AROUND_US) }),
  tell: (words) => (need('#state').textContent = words),
  showsDrawings: () => cueShown, // they would give the cue away
});
listen({
  ...controls.actions,
  enter: on,
  again,
  back: () => at > 0 && open(at - 1),
  earlier: () => controls.seek(player.nowUs - TWO_SECONDS),
  later: () => controls.seek(player.nowUs + TWO_SECONDS),
  room: () => void toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});
open(0);
document.documentElement.dataset.ready = 'video-review';
