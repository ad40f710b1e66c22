import { describe, expect, it, onTestFinished, vi } from 'vitest';
import { offsetBy, offsetByIntl, zoneClock } from '../../server/entities/zone-clock.ts';
import { sourceLabel } from '../../web/format/names.ts';
import { counted, diameter, grams, length, metres, percent, stretchText, unbroken } from '../../web/format/numbers.ts';
import {
  ago,
  clock,
  clockWithSeconds,
  day,
  dayOfYear,
  knowClock,
  serviceClockText,
  shortDay,
  shortDayOfYear,
  span,
  zoneOffsetMs,
} from '../../web/format/times.ts';

const spaced = (text: string) => text.replace(/[\u00a0\u202f]/g, ' ');

describe('numbers on the page', () => {
  it('show diameters to the thousandth and lengths in a handy unit', () => {
    expect(diameter(1.7501)).toBe('1.750');
    expect(diameter(null)).toBe('–');
    expect(spaced(length(7.64))).toBe('7.6 mm');
    expect(spaced(length(28.2))).toBe('28 mm');
    expect(spaced(length(1234))).toBe('1.23 m');
    expect(metres(298_543, 1)).toBe('298.5');
  });

  it('use a true minus, never a minus zero, and separate thousands only in long numbers', () => {
    expect(metres(-1500)).toBe('\u22121.50');
    expect(metres(-1)).toBe('0.00');
    expect(spaced(metres(12_345_678))).toBe('12 345.68');
    expect(metres(9_876_000)).toBe('9876.00');
  });

  it('keep their unit, and the name of what they count, on the same line in a sentence of the service', () => {
    expect(unbroken('0.63 m of 5 mm, 0.1 % in 3 s; 4 blobs, 2 metres, spool 1 is R3-1 A')).toBe(
      '0.63\u00a0m of 5\u00a0mm, 0.1\u00a0% in 3\u00a0s; 4 blobs, 2 metres, spool\u00a01 is R3-1 A',
    );
  });

  it('show shares, masses and counts', () => {
    expect(spaced(percent(0.0012))).toBe('0.1 %');
    expect(spaced(percent(0.5))).toBe('50 %');
    expect(percent(Number.NaN)).toBe('–');
    expect(spaced(grams(541.3))).toBe('541 g');
    expect(spaced(grams(1041))).toBe('1.04 kg');
    expect(counted(1, 'stretch', 'stretches')).toBe('1 stretch');
    expect(counted(2, 'stretch', 'stretches')).toBe('2 stretches');
  });
});

describe('a stretch of a spool', () => {
  it('has enough digits to tell its ends apart, or is a single place', () => {
    expect(stretchText(7460, 7950)).toBe('7.46 to 7.95\u00a0m');
    expect(stretchText(-3, 12)).toBe('0.000 to 0.012\u00a0m');
    expect(stretchText(5430.2, 5435.1)).toBe('5.430 to 5.435\u00a0m');
    expect(stretchText(5430.2, 5430.4)).toBe('at 5.430\u00a0m');
  });
});

describe('the label of a source', () => {
  it('contains its title once', () => {
    const sourceTitle = 'simulator, scenario evening';
    const text = 'Reading from the simulator, scenario evening.';
    expect(sourceLabel({ sourceTitle, text })).toBe(text);
    expect(sourceLabel({ sourceTitle, text: 'Over.' })).toBe('simulator, scenario evening: Over.');
  });
});

describe('times on the page', () => {
  it('show spans in at most two units', () => {
    expect(span(14_000)).toBe('14 s');
    expect(span(200_000)).toBe('3 min 20 s');
    expect(span(3_600_000)).toBe('1 h');
    expect(span(7_500_000)).toBe('2 h 5 min');
    expect(span(-5)).toBe('0 s');
    expect(ago(1000, 2000)).toBe('just now');
    expect(ago(0, 200_000)).toBe('3 min ago');
  });

  // IANA time zone database: Central European Time is UTC+1, summer time UTC+2 from the last Sunday of March, 01:00 UTC,
  // to the last Sunday of October, 01:00 UTC (Directive 2000/84/EC); Nepal is UTC+5:45.
  it('have the offset of a zone on either side of a clock change', () => {
    const H = 3_600_000;
    expect(zoneOffsetMs(Date.UTC(2026, 2, 29, 0, 59), 'Europe/Berlin')).toBe(H);
    expect(zoneOffsetMs(Date.UTC(2026, 2, 29, 1, 0), 'Europe/Berlin')).toBe(2 * H);
    expect(zoneOffsetMs(Date.UTC(2026, 9, 25, 0, 59), 'Europe/Berlin')).toBe(2 * H);
    expect(zoneOffsetMs(Date.UTC(2026, 9, 25, 1, 0), 'Europe/Berlin')).toBe(H);
    expect(zoneOffsetMs(Date.UTC(2026, 0, 1), 'Asia/Kathmandu')).toBe(5.75 * H);
  });

  // IANA time zone database, by Intl. Casablanca pauses summer time in Ramadan; Lord Howe moves by half an hour.
  it.each(['Europe/Berlin', 'Africa/Casablanca', 'Australia/Lord_Howe', 'UTC'])(
    'has the clock of %s beside it',
    (zone) => {
      const [fromMs, untilMs] = [Date.UTC(2023, 2, 1), Date.UTC(2027, 2, 1)];
      const clock = zoneClock(zone, fromMs, untilMs);
      for (let ms = fromMs; ms < untilMs; ms += 3.7e6)
        if (offsetBy(clock, ms) !== offsetByIntl(ms, zone)) expect.fail(`${ms}`);
      for (const [changeMs] of clock.offsets.slice(1))
        expect([changeMs - 1, changeMs].map((ms) => offsetBy(clock, ms))).toEqual(
          [changeMs - 1, changeMs].map((ms) => offsetByIntl(ms, zone)),
        );
      expect([fromMs - 1, untilMs].map((ms) => offsetBy(clock, ms))).toEqual([null, null]);
    },
  );

  // Unicode CLDR, by Intl. Its versions differ in the comma after a weekday.
  it.each([undefined, 'Europe/Berlin', 'Asia/Kathmandu'])('read as en-GB has them, in the zone %s', (timeZone) => {
    const intl = (options: Intl.DateTimeFormatOptions, ms: number) =>
      new Intl.DateTimeFormat('en-GB', { ...options, ...(timeZone && { timeZone }) }).format(ms).replace(',', '');
    const time = { hour: '2-digit', minute: '2-digit' } as const;
    for (let month = 0; month < 12; month += 1) {
      const ms = Date.UTC(2026, month, 3 * month + 1, month % 2 === 0 ? 22 : 0, 5, 9);
      expect(clock(ms, timeZone)).toBe(intl(time, ms));
      expect(clockWithSeconds(ms, timeZone)).toBe(intl({ ...time, second: '2-digit' }, ms));
      expect(day(ms, timeZone)).toBe(intl({ weekday: 'long', day: 'numeric', month: 'long', year: 'numeric' }, ms));
      expect(shortDay(ms, timeZone)).toBe(intl({ weekday: 'short', day: 'numeric', month: 'short' }, ms));
      expect(dayOfYear(ms, timeZone)).toBe(intl({ day: 'numeric', month: 'short', year: 'numeric' }, ms));
    }
  });

  it('are said to be those of the service where its clock is another', () => {
    onTestFinished(() => knowClock(null));
    const nowMs = Date.UTC(2026, 9, 25, 0, 30);
    const textIn = (zone: string) => {
      knowClock(zoneClock(zone, nowMs - 86_400_000, nowMs + 86_400_000));
      return serviceClockText(nowMs);
    };
    vi.stubEnv('TZ', 'Europe/Berlin');
    onTestFinished(() => void vi.unstubAllEnvs());
    expect(textIn('UTC')).toBe('By the clock of the service, which shows 00:30 now (UTC).');
    expect(textIn('Europe/Paris')).toBeNull();
    knowClock(null);
    expect(serviceClockText(nowMs)).toBeNull();
  });

  it('have the year of the zone, too', () => {
    const newYearMs = Date.UTC(2026, 11, 31, 23, 30);
    expect(shortDayOfYear(newYearMs, 'Asia/Kathmandu')).toBe('Fri 1 Jan 2027');
    expect(shortDayOfYear(newYearMs, 'America/St_Johns')).toBe('Thu 31 Dec 2026');
  });
});
