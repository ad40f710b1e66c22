import { describe, expect, it } from 'vitest';
import { propose } from '../../server/proposal/propose.ts';
import type { RoleMapping } from '../../server/reading/layout-builder.ts';
import { isRole } from '../../server/reading/names.ts';
import { unitFor } from '../../server/reading/units.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { Bench, START_MS } from '../reading/intake-bench.ts';
import { expectSameForAnySplit } from './any-split.ts';
import { SKETCHES, type Sketch, type Truth, truthAt } from './sketches.ts';

/** A board that prints from `fromS` to `toS`, line by line as it would come over the cable, this much later. */
function listen(bench: Bench, sketch: Sketch, fromS: number, toS: number, laterS = 0): void {
  const first = Math.round(fromS * sketch.linesPerS);
  for (let i = first; i < toS * sketch.linesPerS; i++) {
    const s = i / sketch.linesPerS;
    bench.bytes(Buffer.from(sketch.print(s, i)), START_MS + (laterS + s) * 1000);
  }
}

function mappingOf(bench: Bench): RoleMapping[] {
  return propose(bench.intake.seenFields(), 1.75).flatMap(({ name, role, unit, needsPins }) => {
    if (needsPins || (name === role && unitFor(role, unit)?.factor === 1)) return [];
    const { factor, offset } = (isRole(role) ? unitFor(role, unit) : null) ?? { factor: 1, offset: 0 };
    return [{ name, role, factor, offset }];
  });
}

describe.each(SKETCHES)('a sketch that prints $name', (sketch) => {
  it('is understood after five seconds, with every value right', () => {
    const bench = new Bench();
    listen(bench, sketch, 0, 5);
    const roles = mappingOf(bench);
    const mapped = new Bench({ roles });
    listen(mapped, sketch, 0, 5);
    const { layout } = mapped.reading(-1);
    for (const [role, within] of Object.entries(sketch.understood)) {
      const column = layout.signals.findIndex((signal) => signal.role === role);
      expect(column, `${role} in ${JSON.stringify(roles)}`).toBeGreaterThanOrEqual(0);
      const off = mapped.readings.slice(-10).map((reading) => {
        const s = (reading.timeMs - START_MS) / 1000;
        const truth = truthAt(s)[(role === 'dx' || role === 'dy' ? 'd' : role) as keyof Truth];
        return Math.abs((reading.values[column] ?? Number.NaN) - truth);
      });
      expect(Math.max(...off), role).toBeLessThanOrEqual(within);
    }
    expect(propose(bench.intake.seenFields(), 1.75).some(({ needsPins }) => needsPins)).toBe(
      sketch.asks.includes('pins'),
    );
  });

  it('is recognised within three seconds, also by a board that printed something else before', () => {
    const other = SKETCHES[(SKETCHES.indexOf(sketch) + 5) % SKETCHES.length] as Sketch;
    const bench = new Bench();
    listen(bench, other, 0, 6);
    const before = bench.readings.length;
    const names = new Set(bench.names);
    listen(bench, sketch, 6, 9);
    const fresh = bench.readings.slice(before);
    expect(fresh.length, `${bench.intake.shape}`).toBeGreaterThan(0);
    expect(bench.intake.seenFields().map(({ name }) => name)).not.toEqual([...names]);
  });

  it('leaves nothing of the sketch that the board ran before, whatever that printed', () => {
    const namesOf = (bench: Bench) =>
      bench.intake
        .seenFields()
        .map(({ name }) => name)
        .sort();
    const fresh = new Bench();
    listen(fresh, sketch, 0, 8);
    // A required checksum stays required within a connection, and a header names what has as many columns.
    const others = SKETCHES.filter((one) => one !== sketch && !/checksum|header/.test(one.name));
    for (const other of IS_LONG_CHECK ? others : others.filter(({ name }) => /prose|units/.test(name))) {
      const bench = new Bench();
      listen(bench, other, 0, 6);
      listen(bench, sketch, 0, 8, 6);
      expect(namesOf(bench), `after ${other.name}`).toEqual(namesOf(fresh));
    }
  });

  it('gives the same readings however its bytes are cut', () => {
    const text = Buffer.concat(
      Array.from({ length: 30 }, (_, i) => Buffer.from(sketch.print(i / sketch.linesPerS, i))),
    );
    expectSameForAnySplit(text);
  });
});
