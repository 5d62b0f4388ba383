// @ts-check
/* On every page: the button that turns the page dark or light, and tables that scroll sideways. */

import { need } from '../lib/page/dom.js';
import { toggleTheme } from '../lib/page/theme.js';
import { watchWideTables } from '../lib/page/wide-tables.js';

need('#theme-button').addEventListener('click', () => toggleTheme());
watchWideTables();
