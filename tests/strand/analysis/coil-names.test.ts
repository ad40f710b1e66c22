import { describe, expect, it } from 'vitest';
import { currentNames, type NamedStrand, nameOfCoil } from '../../../server/strand/plan/coil-names.ts';

const named = (name: string, fromMm: number, toMm: number): NamedStrand => ({ name, fromMm, toMm });

describe('the name of a coil', () => {
  it('stays with its strand when another plan makes other coils', () => {
    const names = currentNames([named('Blue', 1000, 2000)]);
    expect(nameOfCoil({ fromMm: 950, toMm: 2100 }, names)).toBe('Blue');
    expect(nameOfCoil({ fromMm: 0, toMm: 5000 }, names)).toBe('Blue');
    expect(nameOfCoil({ fromMm: 1400, toMm: 2000 }, names)).toBe('Blue');
    expect(nameOfCoil({ fromMm: 3000, toMm: 4000 }, names)).toBeNull();
  });

  it('is not used for a coil with half of its strand or less', () => {
    const names = currentNames([named('Blue', 1000, 2000)]);
    expect(nameOfCoil({ fromMm: 0, toMm: 1500 }, names)).toBeNull();
    expect(nameOfCoil({ fromMm: 1500, toMm: 9000 }, names)).toBeNull();
    expect(nameOfCoil({ fromMm: 0, toMm: 1501 }, names)).toBe('Blue');
  });

  it('is that of the longest stretch where a coil contains several', () => {
    const names = currentNames([named('Short', 0, 500), named('Long', 600, 1900)]);
    for (const order of [names, names.toReversed()]) expect(nameOfCoil({ fromMm: 0, toMm: 2000 }, order)).toBe('Long');
  });

  it('is replaced by a later name on the same strand, and deleted by an empty one', () => {
    const names = [named('First', 1000, 2000), named('Second', 1050, 1980), named('Other', 5000, 6000)];
    expect(currentNames(names).map(({ name }) => name)).toEqual(['Second', 'Other']);
    expect(currentNames([...names, named('', 1000, 2000)]).map(({ name }) => name)).toEqual(['Other']);
    expect(currentNames([])).toEqual([]);
  });

  it('is replaced by one for a part of its strand, but not by one that shares only half of the shorter strand', () => {
    const namesAfter = (later: NamedStrand) =>
      currentNames([named('First', 1000, 5000), later]).map(({ name }) => name);
    expect(namesAfter(named('Part', 2000, 2500))).toEqual(['Part']);
    expect(namesAfter(named('Half', 500, 1500))).toEqual(['First', 'Half']);
    expect(namesAfter(named('More', 501, 1501))).toEqual(['More']);
  });
});
