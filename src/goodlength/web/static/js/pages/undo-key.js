// @ts-check
/* On every page: the line with Undo that came with it, and its key. */

import { announceUndo, listenForUndo } from '../lib/page/undo-line.js';

listenForUndo();
announceUndo();
