// @ts-check
/* Clips, reels and the like being made: progress, stop, and the page anew when one has ended. */

import { watch } from '../../lib/server/job-progress.js';

for (const box of document.querySelectorAll('.made[data-job]')) void watch(/** @type {HTMLElement} */ (box), { reload: 'ended' });
