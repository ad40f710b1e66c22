import { expect, it } from 'vitest';
import { FirmwareLog } from '../../server/monitor/line/line-log.ts';

/** What is logged of one note a second, each with another text. */
function logged(seconds: number): string[] {
  const lines: string[] = [];
  const log = new FirmwareLog((text) => lines.push(text));
  for (let s = 0; s < seconds; s++) log.note(`note ${s}`, s * 1000);
  return lines;
}

it('logs 20 notes a minute and says that it leaves the others out', () => {
  const lines = logged(120);
  expect(lines).toHaveLength(40);
  expect([lines[0], lines[19], lines[20]]).toEqual([
    'note 0',
    'note 19 (further notes of this minute are left out)',
    'note 60',
  ]);
});

it('logs 1,000 notes a day, so that a board that prints all the time does not fill the disk within months', () => {
  const lines = logged(2 * 86_400);
  expect(lines).toHaveLength(2000);
  expect(lines[999]).toMatch(/\(further notes of this day are left out\)$/);
  expect(lines[1000]).toBe('note 86400');
});

it('logs the same text once a minute', () => {
  const lines: string[] = [];
  const log = new FirmwareLog((text) => lines.push(text));
  for (let s = 0; s < 120; s++) log.note('banner', s * 1000);
  expect(lines).toHaveLength(2);
});
