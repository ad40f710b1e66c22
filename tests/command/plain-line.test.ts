import { expect, test } from 'vitest';
import { plainLine } from '../../server/command/plain-line.ts';
import { serviceLog } from '../../server/command/service-log.ts';

/** In the time zone of the machine that runs the test. */
const at = new Date(2026, 10, 24, 20, 5, 9).toISOString();

test('shows local time, message and facts, and the level unless it is info', () => {
  expect(plainLine({ time: at, level: 30, msg: 'Winding began.' })).toBe('2026-11-24 20:05:09  Winding began.');
  expect(plainLine({ time: at, level: 40, msg: 'No line came.', source: 'tcp:bench', seconds: 3 })).toBe(
    '2026-11-24 20:05:09  WARNING: No line came.  source=tcp:bench  seconds=3',
  );
});

test('shows only a few facts, and shortens long ones', () => {
  const line = plainLine({ time: at, level: 50, msg: 'Much.', a: 1, b: { c: 2 }, d: 'x'.repeat(200), e: null, f: 5 });
  expect(line).toBe(`2026-11-24 20:05:09  ERROR: Much.  a=1  b={"c":2}  d=${'x'.repeat(80)}…  e=null`);
});

test('shows the stack of an error', () => {
  const [first, second, third] = plainLine({
    time: at,
    level: 60,
    msg: 'A fault',
    err: { message: 'no', stack: 'Error: no\n    at here' },
  }).split('\n');
  expect(first).toBe('2026-11-24 20:05:09  FATAL: A fault');
  expect(second).toBe('Error: no');
  expect(third).toBe('    at here');
});

test('replaces control characters from the cable', () => {
  const line = plainLine({ time: at, level: 30, msg: 'The board says \u001b[2Jhello\nthere', text: '\u009b1m\u0007' });
  expect(line).toBe('2026-11-24 20:05:09  The board says ·[2Jhello·there  text=·1m·');
});

test('writes readable lines of the chosen level to a terminal', () => {
  const written: string[] = [];
  const { log, logger } = serviceLog('warn', { isTTY: true, write: (text) => written.push(text) });
  log.info('Not shown.');
  log.warn('Shown.', { seconds: 3 });
  logger.error({ err: new Error('broken') }, 'Shown too');
  expect(written).toHaveLength(2);
  expect(written[0]).toMatch(/^\d{4}-\d\d-\d\d \d\d:\d\d:\d\d {2}WARNING: Shown\. {2}seconds=3\n$/);
  expect(written[1]).toMatch(/ERROR: Shown too\nError: broken\n\s+at /);
});
