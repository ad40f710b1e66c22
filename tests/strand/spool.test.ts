import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { Problem } from '../../server/problem/problem.ts';
import { effectiveSections } from '../../server/strand/effective-sections.ts';
import {
  gaugeLengthMm,
  reachesWinderInS,
  spoolPositionMm,
  spoolStartGaugeMm,
  winderGaugeMm,
} from '../../server/strand/position.ts';
import type { MeasuredSection, Section, StatedSection } from '../../server/strand/section.ts';
import { checkSection } from '../../server/strand/section-input.ts';
import { spoolTotals } from '../../server/strand/spool-totals.ts';
import { tries } from '../long-check.ts';

const measured = (over: Partial<MeasuredSection> = {}): MeasuredSection => ({
  ordinal: 1,
  kind: 'blob',
  fromMm: 1000,
  toMm: 1010,
  fromTimeMs: 10_000,
  toTimeMs: 10_300,
  peakMm: 1.95,
  peakAtMm: 1004,
  volumeBeyondMm3: 1.2,
  certainty: 'sure',
  verdict: 'discard',
  open: false,
  ...over,
});

const stated = (over: Partial<StatedSection> = {}): StatedSection => ({
  id: 1,
  measuredOrdinal: null,
  about: null,
  fromMm: 2000,
  toMm: 2100,
  verdict: 'discard',
  note: '',
  removed: false,
  atTimeMs: 50_000,
  ...over,
});

describe('the effective sections', () => {
  it('are the measured ones where nothing was stated', () => {
    expect(effectiveSections([measured()], [])).toEqual([
      {
        id: 'm1',
        kind: 'blob',
        fromMm: 1000,
        toMm: 1010,
        fromTimeMs: 10_000,
        toTimeMs: 10_300,
        peakMm: 1.95,
        peakAtMm: 1004,
        volumeBeyondMm3: 1.2,
        certainty: 'sure',
        verdict: 'discard',
        note: '',
        origin: 'measured',
        open: false,
      },
    ]);
  });

  it("follow a user's statements: adjusted, dismissed, marked, and deleted again", () => {
    const sections = effectiveSections(
      [measured(), measured({ ordinal: 2, fromMm: 3000, toMm: 3010 })],
      [
        stated({
          id: 1,
          measuredOrdinal: 1,
          fromMm: 990,
          toMm: 1020,
          verdict: 'doubtful',
          note: 'felt it',
        }),
        stated({ id: 2, measuredOrdinal: 2, removed: true }),
        stated({ id: 3 }),
        stated({ id: 4, fromMm: 5000, toMm: 5001, removed: true }),
      ],
    );
    expect(sections.map((s) => [s.id, s.origin, s.verdict, s.fromMm, s.note])).toEqual([
      ['m1', 'adjusted', 'doubtful', 990, 'felt it'],
      ['p3', 'user', 'discard', 2000, ''],
    ]);
  });

  it('keep a statement about a section that a new analysis no longer finds', () => {
    const [section] = effectiveSections([], [stated({ id: 9, measuredOrdinal: 77, note: 'cut here' })]);
    expect(section).toMatchObject({
      id: 'p9',
      kind: 'marked',
      fromMm: 2000,
      note: 'cut here',
    });
  });

  it("include what a section grew after the user's statement", () => {
    const statement = stated({
      measuredOrdinal: 1,
      fromMm: 1000,
      toMm: 1010,
      atTimeMs: 10_300,
    });
    const grown = measured({ toMm: 1500, toTimeMs: 20_000, open: true });
    expect(effectiveSections([grown], [statement])[0]?.toMm).toBe(1500);
  });

  const anyStated = fc.record({
    id: fc.integer({ min: 1, max: 40 }),
    measuredOrdinal: fc.option(fc.integer({ min: 1, max: 12 })),
    fromMm: fc.integer({ min: 0, max: 9000 }),
    toMm: fc.integer({ min: 9001, max: 10_000 }),
    verdict: fc.constantFrom('good', 'doubtful', 'discard') as fc.Arbitrary<StatedSection['verdict']>,
    note: fc.string({ maxLength: 5 }),
    removed: fc.boolean(),
    atTimeMs: fc.integer({ min: 0, max: 100_000 }),
    about: fc.constant(null),
  });
  const text = fc.uniqueArray(anyStated, {
    selector: (statement) => statement.id,
    maxLength: 20,
  });
  const found = fc
    .uniqueArray(fc.integer({ min: 1, max: 12 }), { maxLength: 12 })
    .map((ordinals) =>
      ordinals.map((ordinal) => measured({ ordinal, fromMm: ordinal * 100, toMm: ordinal * 100 + 30 })),
    );

  it("contain a user's last statement about each target exactly once", () => {
    fc.assert(
      fc.property(found, text, (sections, statements) => {
        const seen = effectiveSections(sections, statements);
        const targets = new Map<string, StatedSection>();
        for (const statement of statements) {
          const target = statement.measuredOrdinal ?? `mark ${statement.id}`;
          const before = targets.get(String(target));
          if (
            before === undefined ||
            statement.atTimeMs > before.atTimeMs ||
            (statement.atTimeMs === before.atTimeMs && statement.id > before.id)
          )
            targets.set(String(target), statement);
        }
        for (const statement of targets.values()) {
          const measuredId = `m${statement.measuredOrdinal}`;
          const shown = seen.filter(
            (s) => (s.id === measuredId && statement.measuredOrdinal !== null) || s.id === `p${statement.id}`,
          );
          expect(shown.length).toBe(statement.removed ? 0 : 1);
          if (!statement.removed)
            expect(shown[0]).toMatchObject({
              fromMm: statement.fromMm,
              toMm: statement.toMm,
              verdict: statement.verdict,
              note: statement.note,
            });
        }
        expect(new Set(seen.map((s) => s.id)).size).toBe(seen.length);
      }),
      { seed: 3, numRuns: tries(300) },
    );
  });

  it('do not depend on the order of the input, nor on repeats in it', () => {
    fc.assert(
      fc.property(found, text, (sections, statements) => {
        const once = effectiveSections(sections, statements);
        expect(effectiveSections(sections, [...statements, ...statements])).toEqual(once);
        expect(effectiveSections([...sections].reverse(), [...statements].reverse())).toEqual(once);
        for (let i = 1; i < once.length; i++)
          expect((once[i] as Section).fromMm).toBeGreaterThanOrEqual((once[i - 1] as Section).fromMm);
      }),
      { seed: 4, numRuns: tries(200) },
    );
  });
});

describe('the totals of a spool', () => {
  const section = (
    fromMm: number,
    toMm: number,
    verdict: Section['verdict'] = 'discard',
    kind: Section['kind'] = 'blob',
  ): Section => ({
    ...(effectiveSections([measured({ fromMm, toMm })], [])[0] as Section),
    verdict,
    kind,
  });

  it('count overlaps once: discard before unknown before doubtful', () => {
    expect(
      spoolTotals(
        [
          section(100, 200),
          section(150, 300, 'doubtful', 'unknown'),
          section(250, 400, 'doubtful', 'offTolerance'),
          section(-50, 10, 'doubtful'),
        ],
        0,
        1000,
      ),
    ).toEqual({
      discardMm: 100,
      unknownMm: 100,
      doubtfulMm: 110,
      goodMm: 690,
      longestCleanMm: 600,
    });
  });

  it('count an unknown stretch as good once a user says so, else as unknown', () => {
    expect(spoolTotals([section(0, 100, 'good', 'unknown')], 0, 100).goodMm).toBe(100);
    expect(spoolTotals([section(0, 100, 'doubtful', 'unknown')], 0, 100).unknownMm).toBe(100);
  });

  it('end a clean piece at a break of the strand without length', () => {
    const totals = spoolTotals([section(400, 400, 'discard', 'strandLost')], 0, 1000);
    expect(totals).toMatchObject({ discardMm: 0, longestCleanMm: 600 });
  });

  it('are zero for an empty spool', () => {
    expect(spoolTotals([section(0, 10)], 5, 5)).toEqual({
      discardMm: 0,
      doubtfulMm: 0,
      unknownMm: 0,
      goodMm: 0,
      longestCleanMm: 0,
    });
  });

  it('add up to its length, and agree with a count millimetre by millimetre', () => {
    const any = fc
      .record({
        from: fc.integer({ min: -50, max: 550 }),
        length: fc.integer({ min: 0, max: 200 }),
        verdict: fc.constantFrom('good', 'doubtful', 'discard') as fc.Arbitrary<Section['verdict']>,
        kind: fc.constantFrom('blob', 'unknown', 'neck') as fc.Arbitrary<Section['kind']>,
      })
      .map((s) => section(s.from, s.from + s.length, s.verdict, s.kind));
    fc.assert(
      fc.property(fc.array(any, { maxLength: 12 }), (sections) => {
        const totals = spoolTotals(sections, 0, 500);
        const count = { discard: 0, unknown: 0, doubtful: 0, good: 0 };
        let clean = 0;
        let longest = 0;
        for (let mm = 0; mm < 500; mm++) {
          if (sections.some((s) => s.fromMm === mm && s.toMm === mm && s.verdict !== 'good')) clean = 0;
          const here = sections.filter((s) => s.fromMm <= mm && s.toMm > mm && s.verdict !== 'good');
          const what = here.some((s) => s.verdict === 'discard')
            ? 'discard'
            : here.some((s) => s.kind === 'unknown')
              ? 'unknown'
              : here.length > 0
                ? 'doubtful'
                : 'good';
          count[what]++;
          clean = what === 'good' ? clean + 1 : 0;
          longest = Math.max(longest, clean);
        }
        expect(totals).toEqual({
          discardMm: count.discard,
          unknownMm: count.unknown,
          doubtfulMm: count.doubtful,
          goodMm: count.good,
          longestCleanMm: longest,
        });
      }),
      { seed: 5, numRuns: tries(300) },
    );
  });
});

describe('a position on the spool', () => {
  it('is position 0 for the strand at the winder when winding starts', () => {
    const strand = { startGaugeMm: spoolStartGaugeMm(10_000, 1200), lengthFactor: 1, cutOuts: [] };
    expect(spoolPositionMm(winderGaugeMm(10_000, 1200), strand)).toBe(0);
    // Five metres later, the strand at the winder is what passed the gauge one path length ago.
    expect(spoolPositionMm(winderGaugeMm(15_000, 1200), strand)).toBe(5000);
    expect(gaugeLengthMm(spoolPositionMm(12_345, strand), strand)).toBe(12_345);
  });

  it('gives the time until a section reaches the winder, null once it is there or the strand stands still', () => {
    expect(reachesWinderInS(9900, 10_000, 1200, 50)).toBeCloseTo(22, 9);
    expect(reachesWinderInS(8800, 10_000, 1200, 50)).toBeNull();
    expect(reachesWinderInS(9900, 10_000, 1200, 0)).toBeNull();
    expect(reachesWinderInS(9900, 10_000, 1200, Number.NaN)).toBeNull();
  });
});

describe('a section entered by a user', () => {
  const spool = { startGaugeMm: 500, lengthMm: 10_000, lengthFactor: 1, cutOuts: [] };
  const request = {
    fromSpoolMm: 100,
    toSpoolMm: 200,
    verdict: 'discard' as const,
  };

  it('is stored in gauge lengths', () => {
    expect(checkSection(request, spool)).toEqual({
      fromMm: 600,
      toMm: 700,
      verdict: 'discard',
      note: '',
    });
  });

  it('is stored as counted by the line, where a tape found each counted metre to be 1.02 m', () => {
    const taped = { startGaugeMm: 500, lengthMm: 10_200, lengthFactor: 1.02, cutOuts: [] };
    const { fromMm, toMm } = checkSection({ ...request, fromSpoolMm: 1020, toSpoolMm: 10_200 }, taped);
    expect(fromMm).toBeCloseTo(1500, 6);
    expect(toMm).toBeCloseTo(10_500, 6);
  });

  it("is clipped to the spool's end where a page rounded it a little beyond", () => {
    expect(checkSection({ ...request, toSpoolMm: 10_000.6 }, spool).toMm).toBe(10_500);
  });

  it.each([
    ['ends before it starts', { toSpoolMm: 50 }, /not after its start/],
    ['has no length', { toSpoolMm: 100 }, /not after its start/],
    ['is no number', { fromSpoolMm: Number.NaN }, /NaN/],
    ['has no end', { toSpoolMm: Number.POSITIVE_INFINITY }, /Infinity/],
    ['starts before the spool', { fromSpoolMm: -20 }, /before the inner end/],
    ['ends beyond the spool', { toSpoolMm: 10_500 }, /holds 10\.000 m/],
    ['has no known verdict', { verdict: 'fine' as 'good' }, /not a verdict/],
    ['has an endless note', { note: 'x'.repeat(501) }, /501 characters/],
  ])('is refused with the reason and the remedy where it %s', (_name, over, reason) => {
    let thrown: unknown;
    try {
      checkSection({ ...request, ...over }, spool);
    } catch (error) {
      thrown = error;
    }
    expect(thrown).toBeInstanceOf(Problem);
    const problem = thrown as Problem;
    expect(problem.code).toBe('bad-section');
    expect(problem.message).toMatch(reason);
    expect(problem.remedy.length).toBeGreaterThan(10);
  });
});
