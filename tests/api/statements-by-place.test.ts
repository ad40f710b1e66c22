import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { sectionsWithStatements } from '../../server/monitor/spool/statements-by-place.ts';
import { effectiveSections } from '../../server/strand/effective-sections.ts';
import type { MeasuredSection, StatedSection, Verdict } from '../../server/strand/section.ts';

const measured = (ordinal: number, fromMm: number, toMm: number, kind: MeasuredSection['kind'] = 'blob') =>
  ({
    ordinal,
    kind,
    fromMm,
    toMm,
    fromTimeMs: fromMm,
    toTimeMs: toMm,
    peakMm: 2,
    peakAtMm: (fromMm + toMm) / 2,
    volumeBeyondMm3: 1,
    certainty: 'sure',
    verdict: 'discard',
    open: false,
  }) as const satisfies MeasuredSection;
const word = (id: number, of: MeasuredSection | null, more: Partial<StatedSection> = {}): StatedSection => ({
  id,
  measuredOrdinal: of?.ordinal ?? null,
  fromMm: of?.fromMm ?? 0,
  toMm: of?.toMm ?? 10,
  verdict: 'good',
  note: 'said',
  removed: false,
  atTimeMs: 1e9,
  about: null,
  ...more,
});

const sectionsOf = (...given: Parameters<typeof sectionsWithStatements>) => sectionsWithStatements(...given).sections;

/** Separate sections, and statements about some of them. */
const spools = fc
  .array(
    fc.record({
      gap: fc.integer({ min: 5, max: 500 }),
      length: fc.integer({ min: 2, max: 300 }),
      kind: fc.constantFrom<MeasuredSection['kind']>('blob', 'neck', 'offTolerance'),
      stated: fc.constantFrom('nothing', 'removed', 'good', 'doubtful', 'moved'),
    }),
    { maxLength: 12 },
  )
  .map((parts) => {
    let at = 0;
    const sections: MeasuredSection[] = [];
    const text: StatedSection[] = [];
    for (const { gap, length, kind, stated } of parts) {
      const section = measured(sections.length + 1, at + gap, at + gap + length, kind);
      at = section.toMm;
      sections.push(section);
      const id = text.length + 1;
      if (stated === 'removed') text.push(word(id, section, { removed: true }));
      else if (stated === 'moved') text.push(word(id, section, { toMm: section.toMm + 4, verdict: 'doubtful' }));
      else if (stated !== 'nothing') text.push(word(id, section, { verdict: stated as Verdict }));
    }
    return { sections, text };
  });

describe('statements of users on strand that is judged again', () => {
  it('have the same effect as in the record if only the ordinals change', () => {
    fc.assert(
      fc.property(spools, fc.integer({ min: 1, max: 50 }), ({ sections, text }, shift) => {
        const judgedAgain = sections.map((section) => ({ ...section, ordinal: section.ordinal + shift }));
        expect(sectionsOf(judgedAgain, sections, text)).toEqual(effectiveSections(sections, text));
      }),
    );
  });

  it('stay in force if another limit makes a section a little longer or shorter, or splits it', () => {
    const recorded = measured(3, 1000, 1020);
    const dismissed = [word(1, recorded, { removed: true })];
    expect(sectionsOf([measured(9, 994, 1028)], [recorded], dismissed)).toEqual([]);
    expect(sectionsOf([measured(9, 1004, 1016)], [recorded], dismissed)).toEqual([]);
    expect(sectionsOf([measured(8, 1001, 1006), measured(9, 1012, 1019)], [recorded], dismissed)).toEqual([]);
  });

  it('affect only their own part of a much longer section', () => {
    const recorded = measured(3, 1000, 1020);
    const found = sectionsOf([measured(1, 980, 1100)], [recorded], [word(1, recorded)]);
    expect(found.map(({ fromMm, toMm, verdict }) => [fromMm, toMm, verdict])).toEqual([
      [980, 1000, 'discard'],
      [1000, 1020, 'good'],
      [1020, 1100, 'discard'],
    ]);
    // Only the part that the statement is about has the recorded id; the others are identified by place.
    expect(found.map(({ id }) => id)).toEqual(['j9800', 'm3', 'j10200']);
  });

  it('do not give the id of a recorded section to another one that only touches it', () => {
    const found = sectionsOf([measured(1, 50, 100), measured(2, 100, 200)], [measured(5, 100, 110)], []);
    expect(found.map(({ id }) => id)).toEqual(['j500', 'j1000']);
    const same = sectionsOf([measured(1, 50, 99), measured(2, 99, 111)], [measured(5, 100, 110)], []);
    expect(same.map(({ id }) => id)).toEqual(['j500', 'm5']);
  });

  it('affect an out-of-round blob only as a blob', () => {
    const blob = measured(1, 1000, 1020);
    const found = sectionsOf(
      [blob, measured(2, 1001, 1020, 'outOfRound')],
      [measured(7, 999, 1020)],
      [word(1, measured(7, 999, 1020))],
    );
    expect(found.map(({ id, verdict }) => [id, verdict])).toEqual([
      ['m7', 'good'],
      ['j10010', 'discard'],
    ]);
  });

  it('do not affect a stretch of another kind around them', () => {
    const blob = measured(3, 1000, 1020);
    const off = measured(7, 500, 3000, 'offTolerance');
    const found = sectionsOf([off, measured(8, 1000, 1020)], [blob], [word(1, blob, { removed: true })]);
    expect(found.map(({ kind, fromMm, toMm }) => [kind, fromMm, toMm])).toEqual([['offTolerance', 500, 3000]]);
  });

  it('stay where nothing is found any more, unless they dismissed a section', () => {
    const recorded = [measured(1, 100, 120), measured(2, 500, 520)];
    const text = [word(1, recorded[0]!, { verdict: 'discard' }), word(2, recorded[1]!, { removed: true })];
    expect(sectionsOf([], recorded, text)).toMatchObject([
      { kind: 'marked', fromMm: 100, toMm: 120, verdict: 'discard', id: 'm1' },
    ]);
  });

  it('never drop a section that no one dismissed', () => {
    fc.assert(
      fc.property(spools, fc.integer({ min: 0, max: 40 }), ({ sections, text }, wider) => {
        const judgedAgain = sections.map((s) => ({ ...s, fromMm: s.fromMm - wider / 20, toMm: s.toMm + wider / 20 }));
        const found = sectionsOf(judgedAgain, sections, text);
        const silent = judgedAgain.filter(
          ({ ordinal }) => !text.some((statement) => statement.measuredOrdinal === ordinal),
        );
        for (const s of silent) {
          const kept = found.find((f) => f.fromMm === s.fromMm && f.toMm === s.toMm && f.kind === s.kind);
          expect(kept?.verdict).toBe('discard');
        }
      }),
    );
  });

  it('apply by kind and place to a section that is not recorded, for the printers that show it', () => {
    const shown = measured(4, 1000, 1020);
    const about = { kind: 'blob', fromMm: 1000, toMm: 1020 } as const;
    const good = word(7, null, { fromMm: 1000, toMm: 1020, about });
    expect(sectionsOf([shown], [], [good])).toMatchObject([{ id: 'j10000', kind: 'blob', verdict: 'good' }]);
    expect(sectionsOf([shown], [], [{ ...good, removed: true }])).toEqual([]);
    // For another printer it is somewhat longer and has another id.
    expect(sectionsOf([measured(1, 996, 1024)], [], [good])).toMatchObject([{ id: 'j10000', verdict: 'good' }]);
    // For a printer without a section there, the statement remains as a marked stretch.
    expect(sectionsOf([], [], [good])).toMatchObject([{ id: 'p7', kind: 'marked', verdict: 'good' }]);
    expect(sectionsOf([], [], [{ ...good, removed: true }])).toEqual([]);
  });
});
