import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { StampedTime, stampLength, timeStampOf, withoutTimeTitle } from '../../server/reading/time-stamp.ts';

const bytesOf = (text: string) => new TextEncoder().encode(text);

describe('a time stamp before a line', () => {
  // The examples of RFC 3339, section 5.8, whose UTC equivalents it states; the leap second is not among what Date can tell apart.
  it.each([
    ['1985-04-12T23:20:50.52Z', '1985-04-12T23:20:50.520Z'],
    ['1996-12-19T16:39:57-08:00', '1996-12-20T00:39:57.000Z'],
    ['1937-01-01T12:00:27.87+00:20', '1937-01-01T11:40:27.870Z'],
  ])('%s is read as RFC 3339 has it', (stamp, utc) => {
    expect(new Date(timeStampOf(`${stamp} d=1.75`)?.dateMs ?? Number.NaN).toISOString()).toBe(utc);
  });

  it.each([
    ['12:34:56 ', 9],
    ['12:34:56.789 -> ', 16],
    ['[12:34:56] ', 11],
    ['(12:34:56), ', 12],
    ['2026-03-01 12:34:56, ', 21],
    ['[2026-03-01T12:34:56.123456+01:00] -> ', 38],
  ])('%s is as long as it is printed, whatever follows', (stamp, length) => {
    for (const rest of ['d=1.75', '1.752;198.0;205.1', 'T']) {
      const line = bytesOf(`x\n${stamp}${rest}\n`);
      expect(stampLength(line, 2, line.length - 1)).toBe(length);
    }
  });

  it.each([
    '',
    '12:34:56',
    '1.750,198.0',
    '24:00:00 d=1.75',
    '12:60:00 d=1.75',
    'a2:34:56 d=1.75',
    '[1.75] 198',
    '2026-13-41 12:00:00 d',
  ])('“%s” has none', (text) => {
    const line = bytesOf(text);
    expect(stampLength(line, 0, line.length)).toBe(0);
  });

  it('ends where the line ends, not in the next one', () => {
    const two = bytesOf('12:34:56 d=1.75');
    expect(stampLength(two, 0, 8)).toBe(0);
    expect(stampLength(two, 0, 10)).toBe(9);
  });
});

it('the time since the first stamp goes on over midnight and never goes back', () => {
  const time = new StampedTime();
  const at = (text: string) => time.next(timeStampOf(`${text} x`)!);
  expect(['23:59:58', '23:59:59.5', '00:00:01', '00:00:00', '13:00:00', '00:30:00'].map(at)).toEqual([
    0, 1500, 3000, 3000, 46_802_000, 88_202_000,
  ]);
});

describe('the time since the first stamp in a night when the clocks change', () => {
  /** A line each second for four hours, as a clock of `zone` stamps it. */
  function stamps(zone: string, fromIso: string, dated: boolean): string[] {
    const format = new Intl.DateTimeFormat('sv-SE', { timeZone: zone, dateStyle: 'short', timeStyle: 'medium' });
    const seconds = Array.from({ length: 4 * 3600 }, (_, s) => format.format(Date.parse(fromIso) + s * 1000));
    return dated ? seconds : seconds.map((text) => text.slice('2026-10-25 '.length));
  }
  function spanS(stamped: readonly string[]): number {
    const time = new StampedTime();
    let longestMs = 0;
    for (const text of stamped) {
      const beforeMs = time.elapsedMs;
      longestMs = Math.max(longestMs, time.next(timeStampOf(`${text} x`)!) - beforeMs);
    }
    expect(longestMs).toBe(1000);
    return time.elapsedMs / 1000;
  }
  beforeEach(() => vi.stubEnv('TZ', 'Europe/Berlin'));
  afterEach(() => vi.unstubAllEnvs());

  it.each([
    ['Europe/Berlin', '2026-10-24T23:30:00Z', true],
    ['Europe/Berlin', '2026-03-29T00:00:00Z', true],
    ['Europe/Berlin', '2026-10-24T23:30:00Z', false],
    // A log from elsewhere.
    ['America/St_Johns', '2026-11-01T03:00:00Z', true],
    ['Australia/Lord_Howe', '2026-04-04T13:00:00Z', true],
    ['Australia/Lord_Howe', '2026-04-04T13:00:00Z', false],
  ])('goes on in %s from %s, with dates: %s', (zone, from, dated) => {
    expect(spanS(stamps(zone, from, dated))).toBe(4 * 3600 - 1);
  });

  it('takes lines out of order, and a wrong stamp, for no change of the clocks', () => {
    const time = new StampedTime();
    const at = (text: string) => time.next(timeStampOf(`2026-10-25 ${text} x`)!) / 1000;
    expect(['02:10:00', '02:10:05', '02:10:04', '01:00:00', '02:10:06'].map(at)).toEqual([0, 5, 5, 5, 6]);
  });
});

describe('the title of the column of time stamps', () => {
  it.each([
    ['time,d,t1', 'd,t1'],
    ['"Date Time"; d; t1', ' d; t1'],
    ['Timestamp\td', 'd'],
    ['DATETIME,d', 'd'],
    ['Zeit;d', 'd'],
  ])('is taken off %s', (header, rest) => expect(withoutTimeTitle(header)).toBe(rest));

  it.each(['timer,d', 'd,time', 'time d', 'uptime,d'])('is not made up from “%s”', (header) =>
    expect(withoutTimeTitle(header)).toBe(header),
  );
});
