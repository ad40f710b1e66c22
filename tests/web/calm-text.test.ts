import { describe, expect, it } from 'vitest';
import { cutOutText, endText } from '../../web/live/calm-text.ts';

/** 29 Nov 2026, 12:00 here. */
const NOON_MS = new Date(2026, 10, 29, 12).getTime();

describe('the clean strand', () => {
  it('is counted from the last stretch to cut out that is wound', () => {
    const toCutOut = [
      { fromMm: 1000, toMm: 1400 },
      { fromMm: 12_000, toMm: 12_400 },
      { fromMm: 37_000, toMm: 37_100 },
    ];
    expect(cutOutText({ woundMm: 36_500, toCutOut })).toBe('Nothing to cut out in the last 24.1\u00a0m');
    expect(cutOutText({ woundMm: 37_050, toCutOut })).toBe('Nothing to cut out in the last 0.0\u00a0m');
    expect(cutOutText({ woundMm: 900, toCutOut })).toBe('Nothing to cut out so far');
  });
});

describe('the end of the spool', () => {
  const spool = { woundMm: 31_000, capacityMm: 331_000, wantedMm: null };

  it('is stated to 5 minutes while it is far, then to the minute', () => {
    // 300 m at 35 mm/s are 2 h 22 min 51 s.
    expect(endText(spool, 35, NOON_MS)).toBe('331\u00a0m (full) at about 14:25');
    // 30 m are 14 min 17 s.
    expect(endText({ ...spool, woundMm: 301_000 }, 35, NOON_MS)).toBe('331\u00a0m (full) at about 12:14');
  });

  it('is the wanted amount, if that comes first', () => {
    expect(endText({ ...spool, wantedMm: 61_000 }, 35, NOON_MS)).toBe('61\u00a0m at about 12:14');
    expect(endText({ ...spool, wantedMm: 400_000 }, 35, NOON_MS)).toContain('(full)');
    expect(endText({ ...spool, wantedMm: 31_000 }, 35, NOON_MS)).toBe('The wanted amount is on it');
  });

  it('has no time while the strand stands still, and no time of day for another day', () => {
    expect(endText(spool, 0, NOON_MS)).toBe('300\u00a0m to 331\u00a0m (full)');
    expect(endText(spool, 2, NOON_MS)).toBe('331\u00a0m (full) in about 42\u00a0h');
    expect(endText({ ...spool, woundMm: 331_000 }, 35, NOON_MS)).toBe('The spool is full');
    expect(endText({ ...spool, capacityMm: null }, 35, NOON_MS)).toBe('');
  });
});
