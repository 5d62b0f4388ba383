/* Times in words, tables of frames, the window of the timeline, and how long a job still takes. */

import assert from 'node:assert/strict';
import test from 'node:test';

import { clockWords, count, dayWords, readTime, score } from '../../src/goodlength/web/static/js/lib/page/time-and-score-format.js';
import { indexAt, inside_s, tableFrom } from '../../src/goodlength/web/static/js/lib/video/frame-time-table.js';
import { leftWords } from '../../src/goodlength/web/static/js/lib/server/job-progress.js';
import { windowOf } from '../../src/goodlength/web/static/js/lib/video/rally-timeline.js';

test('times in words', () => {
  assert.equal(clockWords(0), '0:00.0');
  assert.equal(clockWords(1_874_699_999), '31:14.6');
  assert.equal(clockWords(3_723_000_000), '1:02:03.0');
  assert.equal(clockWords(-5), '0:00.0');
  assert.equal(dayWords(70_274_000_000), '19:31:14');
  assert.equal(score([11, 9]), '11–9');
  assert.equal(count(1, 'rally', 'rallies'), '1 rally');
  assert.equal(count(2, 'let'), '2 lets');
});

test('times typed', () => {
  assert.equal(readTime('31:14.6'), 1_874_600_000);
  assert.equal(readTime(' 74,6 '), 74_600_000);
  assert.equal(readTime('1:02:03'), 3_723_000_000);
  for (const text of ['', 'soon', '1:2:3:4', '-5', '1:', ':30']) assert.equal(readTime(text), null, text);
});

test('a time written out is read back', () => {
  for (const us of [0, 100_000, 59_900_000, 60_000_000, 3_599_900_000, 7_325_400_000]) assert.equal(readTime(clockWords(us)), us);
});

const table = tableFrom({ n: 5, base: [1, 1000], first: 100, end: 340, steps: [[40, 2], [80, 1], [40, 1]] });

test('a table of frames from steps', () => {
  assert.deepEqual(table, { starts_s: [0.1, 0.14, 0.18, 0.26, 0.3], end_s: 0.34, usual_s: 0.04 });
});

test('the frame shown at a time is the last that has begun', () => {
  assert.deepEqual([0, 0.1, 0.139, 0.14, 0.25, 9].map((time_s) => indexAt(table, time_s)), [0, 0, 0, 1, 2, 4]);
});

test('a seek lands inside its frame, half a usual step after its start', () => {
  for (const [index] of table.starts_s.entries()) assert.equal(indexAt(table, inside_s(table, index)), index);
  assert.ok(Math.abs(inside_s(table, 2) - 0.2) < 1e-9); // not half-way through the long frame
  assert.equal(inside_s(table, 99), inside_s(table, 4));
});

test('the window of the timeline shows every rally, now, and two minutes at least', () => {
  const spans = [{ start_us: 10e6, end_us: 20e6 }, { start_us: 400e6, end_us: 410e6 }];
  const view = windowOf(spans, 415e6, 1000e6);
  assert.ok(view.from_us <= 10e6 && view.to_us >= 415e6);
  const short = windowOf([], 30e6, 1000e6);
  assert.ok(short.to_us - short.from_us >= 120e6);
  const file = windowOf([], 5e6, 60e6);
  assert.deepEqual(file, { from_us: 0, to_us: 60e6 });
});

test('time left is told only once there is something to tell it from', () => {
  assert.equal(leftWords(0, 0, 0.02, 10_000), '');
  assert.equal(leftWords(0, 0, 0.5, 1000), '');
  assert.equal(leftWords(0, 0, 0.5, 10_000), ', less than a minute left');
  assert.equal(leftWords(0.1, 0, 0.2, 60_000), ', about 8 minutes left');
  assert.equal(leftWords(0, 0, 1, 10_000), '');
});
