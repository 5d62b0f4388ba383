// @ts-check
/* Two serves beside each other in one player. Both follow the first, counted from their common moment: playing,
   each keeps up with it; stopped, each shows the frame so many frames from its own moment. */

import { ask, failureWords } from '../../lib/server/json-requests.js';
import { need } from '../../lib/page/dom.js';
import { listen } from '../../lib/page/keyboard-shortcuts.js';
import { toggleTheme } from '../../lib/page/theme.js';
import { PlayerControls } from '../../lib/player/player-controls.js';
import { VideoPlayer } from '../../lib/video/multi-file-player.js';

const begin = /** @type {import('../../lib/server/message-types.js').SideBySidePage} */ (JSON.parse(need('#serve-pair').dataset.begin ?? '{}'));
const APART_US = 30_000; // further than this the two have run apart, and the second is put right
const FAR_US = 2_000_000; // so far from contact a wall or bounce is still that of the serve
const [BEFORE_US, AFTER_US] = [begin.before_s * 1e6, begin.after_s * 1e6];
const SIDES = ['first', 'second'];
const frames = /** @type {HTMLElement[]} */ ([...document.querySelectorAll('.frames .frame')]);
const [first, second] = frames.map((frame) => new VideoPlayer(frame, begin.parts, () => {}));
const players = [first, second];
const nudge_us = [...begin.nudge_us];
let { mirrored } = begin;
let step = 0; // frames from the common moment, of the quicker film, while both stand
let zero_us = begin.contacts_us[0] + begin.nudge_us[0]; // well inside the frame of the common moment, in the first
let standing = false; // both are being put
let placed = -1; // match time of the first at which both were put
/** @type {ReturnType<typeof setTimeout> | undefined} */
let due;

/** The common moment in one of them, match time. @param {number} n */
const momentOf = (n) => begin.contacts_us[n] + nudge_us[n];

/** "+0.24 s". @param {number} us from the common moment */
function words(us) {
  const hundredths = Math.round(us / 10_000);
  return `${hundredths < 0 ? '−' : hundredths > 0 ? '+' : ''}${(Math.abs(hundredths) / 100).toFixed(2)} s`;
}

const controls = new PlayerControls(first, {
  match: begin.match,
  window: () => ({ start_us: Math.max(0, momentOf(0) - BEFORE_US), end_us: momentOf(0) + AFTER_US }),
  zero: () => zero_us,
  words,
  others: [{ frame: frames[1], player: second }],
  tell,
});

/** @param {string} text */
function tell(text) {
  need('#state').textContent = text;
}

// ---- in step

const tables = () => Promise.all(players.map((player, n) => player.tableOf(player.partAt(momentOf(n)))));

/** Put both so many frames of the quicker film from their moment. @param {number} to */
async function stand(to) {
  standing = true;
  for (const player of players) player.pause();
  const known = await tables();
  const usual_s = Math.min(...known.map((table) => table?.usual_s ?? 0.04));
  step = Math.max(-Math.floor(begin.before_s / usual_s), Math.min(Math.floor(begin.after_s / usual_s), to));
  for (const [n, player] of players.entries()) player.seek(await player.insideFrame(momentOf(n), Math.round((step * usual_s) / (known[n]?.usual_s ?? usual_s))), false);
  placed = first.nowUs;
  standing = false;
}

/** The first was stopped or scrubbed: the second goes to the frame that belongs to it. */
async function settle() {
  placed = first.nowUs;
  const [one, two] = await tables();
  if (!one || !two || first.playing) return;
  const by = await first.framesBetween(momentOf(0), first.nowUs);
  step = Math.round((by * one.usual_s) / Math.min(one.usual_s, two.usual_s));
  second.seek(await second.insideFrame(momentOf(1), Math.round((by * one.usual_s) / two.usual_s)), false);
}

function follow() {
  const at = first.nowUs - momentOf(0);
  for (const [n, player] of players.entries()) {
    const trouble = need('.trouble', frames[n]);
    trouble.hidden = player.problems.length === 0;
    if (!trouble.hidden) trouble.textContent = 'This browser cannot play the video. Make a copy on the Footage page.';
  }
  if (!first.playing) {
    if (second.playing) second.pause();
    if (first.nowUs !== placed && !standing) void settle();
    return;
  }
  if (at >= AFTER_US && !first.loop) return void stand(Infinity);
  if (second.rate !== first.rate) second.setRate(first.rate);
  if (!second.playing || (Math.abs(second.nowUs - momentOf(1) - at) > APART_US && !second.front.video.seeking)) second.seek(momentOf(1) + at, true);
}

function play() {
  if (!first.playing && first.nowUs - momentOf(0) > AFTER_US - 100_000) first.seek(Math.max(0, momentOf(0) - BEFORE_US));
  controls.playOrStop();
}

// ---- the common moment

/** @param {number} n @param {number} by */
async function nudge(n, by) {
  const usual_s = (await tables())[n]?.usual_s ?? 0.04;
  const to = nudge_us[n] + Math.round(by * usual_s * 1e6);
  if (Math.abs(to) > FAR_US) return tell('The moment can be moved by two seconds at most.');
  nudge_us[n] = to;
  return changed();
}

/** Take the same contact with the ball as the moment of both, as heard. @param {'racket' | 'front wall' | 'floor'} what @param {string} name */
async function align(what, name) {
  const { impacts } = await controls.loadImpacts();
  const found = begin.contacts_us.map((us) => (what === 'racket' ? us : impacts.find((impact) => impact.what === what && impact.us > us && impact.us - us <= FAR_US)?.us));
  const missing = SIDES.filter((_, n) => found[n] === undefined);
  if (missing.length) return tell(`The ${name} of the ${missing.join(' and of the ')} serve was not heard. Step to it, then move the moment of each by frames.`);
  found.forEach((us, n) => (nudge_us[n] = (us ?? 0) - begin.contacts_us[n]));
  tell(what === 'racket' ? 'Both are together at contact, as logged.' : `Both are together at the ${name}, from the sound.`);
  return changed();
}

async function changed() {
  clearTimeout(due);
  due = setTimeout(() => void save(), 250);
  await draw();
  await stand(step);
}

async function draw() {
  zero_us = await first.insideFrame(momentOf(0), 0);
  controls.views[1].turn(mirrored);
  controls.pressed('mirror', mirrored);
  const known = await tables();
  for (const [n, place] of [...document.querySelectorAll('.nudge')].entries()) {
    const by = Math.round(nudge_us[n] / 1e6 / (known[n]?.usual_s ?? 0.04));
    place.textContent = by ? `${Math.abs(by)} ${Math.abs(by) === 1 ? 'frame' : 'frames'} ${by < 0 ? 'before' : 'after'} contact` : 'contact';
  }
  controls.draw();
}

async function save() {
  try {
    await ask(`/api/matches/${encodeURIComponent(begin.match)}/beside`, { body: { rallies: begin.rallies, nudge_us, mirrored } });
    document.documentElement.dataset.saved = JSON.stringify(nudge_us);
  } catch (error) {
    tell(failureWords(error, 'The connection dropped. The last change was not saved. Change something to try again.'));
  }
}

for (const select of document.querySelectorAll('.choose select')) {
  select.addEventListener('change', () => /** @type {HTMLFormElement} */ (select.closest('form')).submit());
}
frames.forEach((frame, n) => {
  for (const video of frame.querySelectorAll('video')) {
    video.addEventListener('loadedmetadata', () => {
      frame.style.aspectRatio = `${video.videoWidth} / ${video.videoHeight}`;
      players[n].tick();
    });
  }
});
first.listeners.add(follow);
second.listeners.add(() => controls.board?.draw());
for (const player of players) player.setSound(1, true);
listen({
  ...controls.actions,
  play,
  'frame-back': () => void stand(step - 1),
  'frame-on': () => void stand(step + 1),
  contact: () => void stand(0),
  mirror: () => {
    mirrored = !mirrored;
    void changed();
  },
  'align-strike': () => void align('racket', 'contact'),
  'align-wall': () => void align('front wall', 'front wall'),
  'align-bounce': () => void align('floor', 'bounce'),
  'first-earlier': () => void nudge(0, -1),
  'first-later': () => void nudge(0, 1),
  'second-earlier': () => void nudge(1, -1),
  'second-later': () => void nudge(1, 1),
  room: () => void toggleTheme(),
  help: () => /** @type {HTMLDialogElement} */ (need('#help')).showModal(),
});
await draw();
await stand(0);
document.documentElement.dataset.ready = 'side-by-side';
