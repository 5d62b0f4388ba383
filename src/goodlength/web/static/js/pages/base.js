// @ts-check
/* On every page: the button that turns the page dim or light. */

import { need } from '../lib/dom.js';
import { toggleTheme } from '../lib/theme.js';

need('#room').addEventListener('click', () => toggleTheme());
