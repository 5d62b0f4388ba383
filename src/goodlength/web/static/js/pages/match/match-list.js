// @ts-check
/* The list of matches: a video dropped anywhere on it begins a match. */

import { need } from '../../lib/page/dom.js';
import { videoDrop } from '../../lib/page/video-drop.js';

videoDrop(need('#video-drop'));
document.documentElement.dataset.ready = 'matches';
