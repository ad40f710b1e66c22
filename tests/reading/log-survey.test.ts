import { describe, expect, test } from 'vitest';
import { kindOfFile } from '../../server/reading/file-kind.ts';
import { type LogSurvey, surveyLog } from '../../server/reading/log-survey.ts';
import { StampedTime, timeStampOf } from '../../server/reading/time-stamp.ts';

const RULES = { shape: 'auto', checksum: 'auto', columnNames: [], roles: [] } as const;
const bytes = (text: string) => new TextEncoder().encode(text);
const lines = (from: number, to: number, line: (i: number) => string) =>
  bytes(Array.from({ length: to - from }, (_, i) => `${line(from + i)}\n`).join(''));

describe('a time stamp before a line', () => {
  test.each([
    ['20:15:03.120 -> d=1.75', null, 72_903_120, 'd=1.75'],
    ['[20:15:03] d=1.75', null, 72_903_000, 'd=1.75'],
    ['2031-02-03T20:15:03.5Z;d=1.75', Date.UTC(2031, 1, 3, 20, 15, 3, 500), 72_903_500, 'd=1.75'],
    ['2031-02-03 20:15:03+01:00\td=1.75', Date.UTC(2031, 1, 3, 19, 15, 3), 72_903_000, 'd=1.75'],
    ['20:15:03,1.752,201.4', null, 72_903_000, '1.752,201.4'],
    ['20:15:03.12: {"d":1.75}', null, 72_903_120, '{"d":1.75}'],
  ])('is found in %s', (line, dateMs, dayMs, rest) => {
    const stamp = timeStampOf(line);
    expect(stamp).toMatchObject({ dateMs, dayMs: expect.closeTo(dayMs, 6) });
    expect(line.slice(stamp?.length)).toBe(rest);
  });

  test.each(['d=1.75', 'ms=12340 d=1.752', '1.752,201.4', '25:15:03 d=1', '20:15:03', '# 20:15:03 boot'])(
    'is not found in %s',
    (line) => {
      expect(timeStampOf(line)).toBe(null);
    },
  );

  test('counts over midnight and never goes back', () => {
    const time = new StampedTime();
    const stamps = ['23:59:59', '23:59:59', '00:00:02', '00:00:01', '23:00:00', '01:00:00'].flatMap(
      (text) => timeStampOf(`${text} d=1`) ?? [],
    );
    expect(stamps.map((stamp) => time.next(stamp))).toStrictEqual([0, 0, 3000, 3000, 82_801_000, 90_001_000]);
  });
});

describe('the survey of a log', () => {
  const survey = (head: Uint8Array, tail: Uint8Array = new Uint8Array(0)) => surveyLog(head, tail, RULES) as LogSurvey;

  test('finds the rate and the span by the clock of its start and its end', () => {
    const line = (i: number) => `ms=${500 + i * 40} n=${i} d=1.75 t1=200`;
    // The tail starts in the middle of a line.
    const found = survey(lines(0, 400, line), lines(90_000, 90_101, line).subarray(3));
    expect(found).toMatchObject({
      clock: 'device',
      stamped: false,
      shape: 'named',
      signals: ['d', 't1'],
      startMs: null,
    });
    expect(found.rateHz).toBeCloseTo(25, 6);
    expect(found.spanMs).toBeCloseTo(90_100 * 40, 3);
    expect(found.firstLine).toBe('ms=500 n=0 d=1.75 t1=200');
  });

  test('finds the start in a date of its first notes', () => {
    const head = bytes('# recorded 2031-02-03T20:15:00Z\n# second note\nd=1.75\nd=1.75\nd=1.76\n');
    expect(survey(head)).toMatchObject({
      clock: null,
      rateHz: null,
      spanMs: null,
      startMs: Date.UTC(2031, 1, 3, 20, 15),
      startFrom: 'note',
    });
  });

  test.each([
    ['a date that does not exist', '# built 2026-24-11 10:00', null],
    ['a date far from when the file was last changed', '# firmware 1.2 of 2024-05-01 10:00Z', null],
    [
      'an earlier impossible date, but from the next possible one',
      '# firmware 1.2 of 2024-05-01 10:00Z\n# started 2031-02-03 20:15Z',
      'note',
    ],
  ])('does not take the start from %s', (_, notes, startFrom) => {
    const head = bytes(`${notes}\nd=1.75\nd=1.75\nd=1.76\n`);
    const found = surveyLog(head, new Uint8Array(0), RULES, Date.UTC(2031, 1, 4, 6));
    expect(found).toMatchObject({ startFrom, startMs: startFrom && Date.UTC(2031, 1, 3, 20, 15) });
  });

  test('ignores the name of the time stamps in a header', () => {
    const head = bytes(`time,d,t1\n${'20:15:03,1.75,200\n'.repeat(30)}`);
    expect(survey(head)).toMatchObject({ clock: 'stamps', shape: 'columns', signals: ['d', 't1'] });
  });

  test('accepts a log with some garbage', () => {
    const head = lines(0, 200, (i) => (i % 3 === 0 ? '\u00ff\u0001~~' : `d=1.75 t1=${200 + (i % 5)}`));
    expect(survey(head)).toMatchObject({ signals: ['d', 't1'] });
  });

  test('reports unknown names and what to do', () => {
    const found = surveyLog(
      lines(0, 50, (i) => `apples=${i} pears=3`),
      new Uint8Array(0),
      RULES,
    );
    expect(found).toMatchObject({
      found: expect.stringMatching(/apples, pears/),
      remedy: expect.stringMatching(/Set-up/),
    });
  });
});

// First bytes from the formats' specifications: JFIF (ITU-T T.871), PNG (ISO/IEC 15948), ZIP (APPNOTE 4.3.7), gzip (RFC 1952),
// SQLite file format, Apache Parquet file format, ELF.
test.each([
  ['ffd8ffe0', /JPEG/],
  ['89504e470d0a1a0a', /PNG/],
  ['504b030414', /spreadsheet/],
  ['1f8b08', /gzip/],
  [Buffer.from('SQLite format 3\0').toString('hex'), /database/],
  ['50415231', /Parquet/],
  ['7f454c46', /program/],
  ['0001020304050607', /not a text file/],
])('a file that starts with %s is recognised', (hex, kind) => {
  expect(kindOfFile(Buffer.from(hex, 'hex'))).toMatch(kind);
});
