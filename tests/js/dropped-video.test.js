/* What was dropped on the page: one video, or words for what else it is. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { notOneVideo, readDrop } from '../../src/goodlength/web/static/js/lib/page/dropped-video.js';

const VIDEO = { name: 'IMG 7.MOV', type: 'video/quicktime', size: 5, folder: false, file: true };

test('one video is taken, by its type or by its ending', () => {
  assert.equal(notOneVideo([VIDEO]), '');
  assert.equal(notOneVideo([{ ...VIDEO, type: '' }]), '');
  assert.equal(notOneVideo([{ ...VIDEO, name: 'court.mts', type: '' }]), '');
});

test('anything else is told in words', () => {
  /** @type {[Partial<typeof VIDEO>[], RegExp][]} */
  const cases = [
    [[], /not a file/],
    [[{ file: false }], /not a file/],
    [[{ folder: true, name: 'June' }], /“June” is a folder/],
    [[{ name: 'notes.txt', type: 'text/plain' }], /“notes.txt” is not a video/],
    [[{ name: 'score.pdf', type: '' }], /is not a video/],
    [[{ size: 0 }], /is empty/],
    [[{}, {}], /2 files were dropped/],
  ];
  for (const [dropped, words] of cases) assert.match(notOneVideo(dropped.map((one) => ({ ...VIDEO, ...one }))), words);
});

test('a drop is read with its folders', () => {
  const file = new File(['film'], 'a.mp4', { type: 'video/mp4' });
  const items = [
    { kind: 'file', getAsFile: () => file, webkitGetAsEntry: () => ({ isDirectory: true }) },
    { kind: 'string', getAsFile: () => null },
  ];
  const { dropped, file: first } = readDrop(/** @type {DataTransfer} */ (/** @type {unknown} */ ({ items, files: [file] })));
  assert.equal(first, file);
  assert.deepEqual(dropped[0], { name: 'a.mp4', type: 'video/mp4', size: 4, folder: true, file: true });
  assert.equal(dropped[1]?.file, false);
});
