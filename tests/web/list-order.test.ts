import { describe, expect, it } from 'vitest';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { ANY, choicesIn, filtered, ordered } from '../../web/list/list-order.ts';
import { RUNS as WORDS } from '../../web/runs/list-of-runs.ts';

const run = (id: number, more: Partial<RunView>): RunView =>
  ({
    id,
    endedMs: 1,
    title: '',
    note: '',
    isTest: false,
    lot: null,
    woundMm: 100_000,
    unknownMm: 0,
    keptMm: 90_000,
    blobs: 0,
    diameterSdMm: 0.01,
    verdict: { quality: 'good', reason: '' },
    ...more,
  }) as RunView;

const lot = (name: string, values: Record<string, number | string | boolean>) => ({ name, preparation: '', values });
const RUNS = [
  run(4, { lot: lot('Grey PETG', { dryingH: 12 }), blobs: 3, keptMm: 60_000, diameterSdMm: null }),
  run(3, { lot: lot('White PLA', { dryingH: 8, colour: 'white' }), blobs: 1, title: 'First night with the new die' }),
  run(2, { lot: lot('White PLA', { dryingH: 4 }), verdict: { quality: 'notUsable', reason: '' }, isTest: true }),
  run(1, { woundMm: 0, note: 'Plug pulled', diameterSdMm: null, verdict: { quality: null, reason: '' } }),
];
const ids = (runs: readonly RunView[]) => runs.map(({ id }) => id);
const found = (more: Partial<typeof ANY>) => ids(filtered(RUNS, { ...ANY, ...more }, WORDS));

describe('the list of runs', () => {
  it('finds runs in which every word occurs, whatever its case', () => {
    expect(found({ search: 'white DIE' })).toEqual([3]);
    expect(found({ search: 'plug' })).toEqual([1]);
    expect(found({ search: 'r2' })).toEqual([2]);
    expect(found({ search: 'test' })).toEqual([2]);
    expect(found({ search: 'dried 12 h' })).toEqual([4]);
    expect(found({ search: 'yellow' })).toEqual([]);
  });

  it('filters by material, preparation and verdict together', () => {
    expect(found({ material: 'White PLA' })).toEqual([3, 2]);
    expect(found({ material: 'White PLA', preparation: 'dryingH=8' })).toEqual([3]);
    expect(found({ verdict: 'Not usable' })).toEqual([2]);
    expect(found({ material: 'Grey PETG', verdict: 'Not usable' })).toEqual([]);
  });

  it('offers what occurs, numbers by size', () => {
    const { material, preparation, verdict } = choicesIn(RUNS, WORDS);
    expect(material.map(([value]) => value)).toEqual(['Grey PETG', 'White PLA']);
    expect(preparation.map(([, text]) => text)).toEqual(['dried 4 h', 'dried 8 h', 'dried 12 h', 'white']);
    expect(verdict.map(([value]) => value)).toEqual(['Good', 'Not usable', 'Nothing wound']);
  });

  it('orders by a figure with the best first and unknown ones last, and is stable', () => {
    expect(ids(ordered(RUNS, 'newest'))).toEqual([4, 3, 2, 1]);
    expect(ids(ordered(RUNS, 'blobs'))).toEqual([2, 3, 4, 1]);
    expect(ids(ordered(RUNS, 'good'))).toEqual([3, 2, 4, 1]);
    expect(ids(ordered(RUNS, 'spread'))).toEqual([3, 2, 4, 1]);
  });
});
