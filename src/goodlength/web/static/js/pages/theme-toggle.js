// @ts-check
/* On every page: the button that turns the page dim or light. */

import { need } from '../lib/page/dom.js';
import { toggleTheme } from '../lib/page/theme.js';

need('#theme-button').addEventListener('click', () => toggleTheme());
