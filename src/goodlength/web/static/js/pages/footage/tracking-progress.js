// @ts-check
/* Players on the floor: while they are being followed, how far it is stands on the page. */

import { watch } from '../../lib/server/job-progress.js';

for (const box of document.querySelectorAll('[data-job]')) void watch(/** @type {HTMLElement} */ (box));
document.documentElement.dataset.ready = 'tracking';
