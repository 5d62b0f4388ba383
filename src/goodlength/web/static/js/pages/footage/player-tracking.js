// @ts-check
/* Players on the floor: how far tracking is, and one rally of the video with both paths over it. */

import { need } from '../../lib/page/dom.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { ask } from '../../lib/server/json-requests.js';
import { watch } from '../../lib/server/job-progress.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';

const TWO_SECONDS = 2_000_000;
const AROUND_US = 1_000_000; // of the timeline before and after the rally
const { match = '', start = '', end = '' } = need('#main').dataset;

/** Play the rally with both paths over it; it stops where the rally ends. */
async function playRally() {
  const rally = { start_us: Number(start), end_us: Number(end) };
  const { parts } = /** @type {import('../../lib/server/message-types.js').Files} */ (await ask(`/api/matches/${encodeURIComponent(match)}/films`));
  if (!parts.length) return;
  let stopAt = rally.end_us;
  const player = new VideoPlayer(need('#frame'), parts, () => {
    const trouble = need('#trouble');
    trouble.hidden = player.problems.length === 0;
    if (!trouble.hidden) trouble.textContent = 'This browser cannot play the video. Make a copy on the Footage page.';
    if (player.playing && !player.loop && player.nowUs >= stopAt) {
      stopAt = Infinity;
      player.pause();
    }
  });
  const controls = new PlayerControls(player, {
    match,
    hidesDrawings: true,
    rally: () => rally,
    window: () => ({ start_us: Math.max(0, rally.start_us - AROUND_US), end_us: Math.min(player.endUs, rally.end_us + AROUND_US) }),
    tell: (words) => (need('#state').textContent = words),
  });
  player.seek(rally.start_us, false);
  controls.setLayers(['court', 'paths']);
  const again = () => {
    stopAt = rally.end_us;
    player.seek(rally.start_us, true);
  };
  listen({
    ...controls.actions,
    earlier: () => controls.seek(player.nowUs - TWO_SECONDS),
    later: () => controls.seek(player.nowUs + TWO_SECONDS),
    again,
    room: () => void toggleTheme(),
    help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
  });
}

for (const box of document.querySelectorAll('[data-job]')) void watch(/** @type {HTMLElement} */ (box));
if (document.querySelector('#player')) await playRally();
document.documentElement.dataset.ready = 'tracking';
