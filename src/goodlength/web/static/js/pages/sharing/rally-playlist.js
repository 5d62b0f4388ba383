// @ts-check
/* Playing chosen rallies one after the other on the Show page. */

import { ask } from '../../lib/server/json-requests.js';
import { need } from '../../lib/page/dom.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';

const matchId = need('#main').dataset.match ?? '';
const { parts } = /** @type {import('../../lib/server/message-types.js').Files} */ (await ask(`/api/matches/${encodeURIComponent(matchId)}/films`));
const buttons = /** @type {HTMLElement[]} */ ([...document.querySelectorAll('[data-start]')]);
const spans = buttons.map((button) => ({ start_us: Number(button.dataset.start), end_us: Number(button.dataset.end) }));
const player = new VideoPlayer(need('#frame'), parts, show);
player.spans = [...spans].sort((a, b) => a.start_us - b.start_us);

const controls = new PlayerControls(player, { match: matchId, rally: () => playingSpan() });

function playingSpan() {
  return spans.find((span) => span.start_us <= player.nowUs && player.nowUs < span.end_us) ?? null;
}

function show() {
  const now = player.nowUs;
  buttons.forEach((button, at) => {
    const inside = spans[at].start_us <= now && now < spans[at].end_us;
    button.closest('tr')?.classList.toggle('playing', inside);
  });
  const trouble = need('#trouble');
  trouble.hidden = player.problems.length === 0;
  if (!trouble.hidden) trouble.textContent = 'This browser cannot play the video. Make a copy on the Footage page.';
}

buttons.forEach((button, at) =>
  button.addEventListener('click', () => {
    player.ralliesOnly = false;
    player.spans = [spans[at]];
    player.seek(spans[at].start_us, true);
    player.ralliesOnly = true;
  }),
);
need('#play-all').addEventListener('click', () => {
  player.spans = [...spans].sort((a, b) => a.start_us - b.start_us);
  if (player.spans.length === 0) return;
  player.ralliesOnly = false;
  player.seek(player.spans[0].start_us, true);
  player.ralliesOnly = true;
});
if (player.spans.length) player.seek(player.spans[0].start_us);
listen(controls.actions);
show();
document.documentElement.dataset.ready = 'show';
