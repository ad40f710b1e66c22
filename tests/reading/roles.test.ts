import { describe, expect, test } from 'vitest';
import { ROLES, unitOf } from '../../server/reading/names.ts';
import { valueAt } from '../../server/reading/reading.ts';
import { Bench, boardLines, checked } from './intake-bench.ts';

describe('roles', () => {
  test('every name of the contract is recognised, with its unit', () => {
    const measured = ROLES.filter((role) => !['ms', 'us', 'n'].includes(role));
    // Power is at most 1.
    const sent = measured.map((role, i) => (/^p\d/.test(role) ? (i + 1) / 100 : i + 1));
    const line = (n: number) =>
      checked(`ms=${n * 20} n=${n} ${measured.map((role, i) => `${role}=${sent[i]}`).join(' ')}`);
    const bench = new Bench().lines([line(1), line(2)]);
    const { layout, values } = bench.reading(1);
    expect(layout.signals).toEqual(measured.map((role) => ({ name: role, role, unit: unitOf(role) })));
    expect(values).toEqual(sent);
    expect(layout.zones.map((zone) => zone.zone)).toEqual([1, 2, 3, 4, 5, 6, 7, 8]);
    for (const column of [
      'diameter',
      'diameterX',
      'diameterY',
      'speed',
      'lengthCounter',
      'screwSpeed',
      'turns',
    ] as const) {
      expect(layout[column]).toBeGreaterThanOrEqual(0);
    }
  });

  test('a setting maps any other name to a role, with a factor and an offset', () => {
    const roles = [
      { name: 'raw', role: 'd', factor: 0.0254, offset: 0.01 },
      { name: 'die', role: 't3', factor: 0.1, offset: -2 },
    ];
    const bench = new Bench({ roles }).lines(Array(3).fill('raw=68.9 die=2034'));
    expect(bench.reading(0).layout.signals.map((signal) => signal.role)).toEqual(['d', 't3']);
    expect(bench.signal('d')[0]).toBeCloseTo(68.9 * 0.0254 + 0.01, 12);
    expect(bench.signal('t3')[0]).toBeCloseTo(201.4, 12);
  });

  test('a name of the contract can be calibrated by mapping it to itself', () => {
    const bench = new Bench({ roles: [{ name: 'd', role: 'd', factor: 1, offset: -0.02 }] }).lines(boardLines(3));
    expect(bench.signal('d')[0]).toBeCloseTo(1.73, 12);
  });

  test('a mapped clock and line number do not become signals', () => {
    const roles = [
      { name: 'sec', role: 'ms', factor: 1000, offset: 0 },
      { name: 'no', role: 'n', factor: 1, offset: 0 },
    ];
    const bench = new Bench({ roles }).lines([0, 1, 3, 4].map((i) => `sec=${(i * 0.5).toFixed(1)} no=${i} d=1.75`));
    expect(bench.names).toEqual(['d']);
    expect(bench.readings.map((r) => r.timeMs - bench.reading(0).timeMs)).toEqual([0, 500, 1500, 2000]);
    expect(bench.readings.map((r) => r.lostBefore)).toEqual([0, 0, 1, 0]);
  });

  test('a name whose role is mapped to another stays visible as sent', () => {
    const bench = new Bench({ roles: [{ name: 'wide', role: 'd', factor: 1, offset: 0 }] }).lines(
      Array(3).fill('d=7 wide=1.75'),
    );
    expect(bench.signal('d')).toEqual([1.75, 1.75, 1.75]);
    expect(bench.signal('d as sent')).toEqual([7, 7, 7]);
  });

  test('a role that the contract does not have is refused', () => {
    expect(() => new Bench({ roles: [{ name: 'x', role: 'speed', factor: 1, offset: 0 }] })).toThrow(TypeError);
  });

  test('d is the mean of dx and dy if only these are sent', () => {
    const bench = new Bench().lines(
      ['dx=1.74 dy=1.78 v=30', 'dx=1.74 dy=1.78 v=30', 'dx=1.70 dy=nan v=30'].map(checked),
    );
    expect(bench.signal('d')).toEqual([expect.closeTo(1.76, 12), expect.closeTo(1.76, 12), Number.NaN]);
    expect(bench.reading(0).layout.signals.at(-1)).toEqual({ name: 'd', role: 'd', unit: 'mm' });
  });

  test('a layout only grows, and a signal keeps its column', () => {
    const short = boardLines(6);
    const long = boardLines(6, 6, () => ' v=35.2');
    const bench = new Bench().lines([...short, ...long].map(checked));
    const before = bench.reading(0).layout;
    const after = bench.reading(-1).layout;
    expect(after.signals.slice(0, before.signals.length)).toEqual(before.signals);
    expect(after).not.toBe(before);
    expect(bench.reading(0).values).toHaveLength(2);
    expect(valueAt(bench.reading(0), after.speed)).toBeNaN();
  });

  test('signals that only some lines carry are gaps in the others', () => {
    const lines = boardLines(40, 0, (i) => (i % 10 === 0 ? ' ta=21.5' : ''));
    const bench = new Bench().lines(lines.map(checked));
    const seen = bench.signal('ta').filter(Number.isFinite);
    expect(bench.readings.length).toBeGreaterThanOrEqual(39);
    expect(seen.length).toBeGreaterThanOrEqual(3);
  });

  test('garbage cannot create signals without limit', () => {
    const bench = new Bench();
    for (let i = 0; i < 400; i++) bench.lines(Array(3).fill(checked(`a${i}=1`)));
    expect(bench.intake.layout.signals.length).toBeLessThanOrEqual(128);
  });
});
