// @ts-check
/* A button that prints the page; without a script the browser's own does it. */

import { need } from '../lib/page/dom.js';

const button = need('#print');
button.hidden = false;
button.addEventListener('click', () => window.print());
