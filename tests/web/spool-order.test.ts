import { describe, expect, it } from 'vitest';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import { gathered, neighbour, ordered, outerFirst, placed, sectionAt } from '../../web/spool/section-order.ts';

function section(part: Partial<SectionView>): SectionView {
  return {
    id: 'm1',
    spoolId: 1,
    kind: 'blob',
    fromGaugeMm: 0,
    toGaugeMm: 10,
    fromSpoolMm: part.fromGaugeMm ?? 0,
    toSpoolMm: part.toGaugeMm ?? 10,
    fromOuterMm: null,
    toOuterMm: null,
    fromTimeMs: null,
    toTimeMs: null,
    peakMm: null,
    peakSpoolMm: null,
    volumeBeyondMm3: null,
    certainty: 'sure',
    doubt: null,
    verdict: 'discard',
    decision: null,
    note: '',
    origin: 'measured',
    open: false,
    reachesWinderInS: null,
    ...part,
  };
}

const blob = section({ id: 'm1', fromGaugeMm: 500, toGaugeMm: 510, volumeBeyondMm3: 3, peakMm: 2.1 });
const worse = section({ id: 'm2', fromGaugeMm: 100, toGaugeMm: 130, volumeBeyondMm3: 9, peakMm: 2 });
const doubtful = section({
  id: 'm3',
  kind: 'offTolerance',
  verdict: 'doubtful',
  fromGaugeMm: 90,
  toGaugeMm: 900,
  volumeBeyondMm3: 50,
});

describe('sections of a spool', () => {
  it('are ordered by harm to a print: blobs by their diameter, missing strand, thin spots, the rest', () => {
    const of = (id: string, part: Partial<SectionView>) => section({ id, ...part });
    const all = [
      of('offTolerance', { kind: 'offTolerance', verdict: 'doubtful', peakMm: 1.52, toGaugeMm: 900 }),
      of('neck', { kind: 'neck', peakMm: 1.501, toGaugeMm: 490, volumeBeyondMm3: 80 }),
      of('thinner neck', { kind: 'neck', peakMm: 1.42 }),
      of('blob', { peakMm: 2.163, toGaugeMm: 30, volumeBeyondMm3: 20 }),
      of('thicker blob', { peakMm: 2.228, volumeBeyondMm3: 8 }),
      of('thicker and longer', { peakMm: 2.228, toGaugeMm: 12, volumeBeyondMm3: 8 }),
      of('blob in doubt', { peakMm: 1.905, verdict: 'doubtful', certainty: 'inDoubt' }),
      of('not measured', { kind: 'unknown', verdict: 'doubtful', toGaugeMm: 40 }),
      of('lost', { kind: 'strandLost', peakMm: 0.1, toGaugeMm: 2000 }),
      of('called good', { peakMm: 2.6, verdict: 'good' }),
    ];
    expect(ordered(all, 'worst', 1.75).map((s) => s.id)).toEqual([
      'thicker and longer',
      'thicker blob',
      'blob',
      'lost',
      'not measured',
      'blob in doubt',
      'thinner neck',
      'neck',
      'offTolerance',
      'called good',
    ]);
    expect(ordered([doubtful, blob, worse], 'metre', 1.75).map((s) => s.id)).toEqual(['m3', 'm2', 'm1']);
  });

  it('give the worst one that covers a metre', () => {
    const all = placed([doubtful, blob, worse]);
    expect(sectionAt(all, 505)?.id).toBe('m1');
    expect(sectionAt(all, 300)?.id).toBe('m3');
    expect(sectionAt(all, 950)).toBeUndefined();
  });

  it('are left out if they are on no spool, or wholly before its inner end', () => {
    expect(placed([section({ fromSpoolMm: null }), section({ fromSpoolMm: -30, toSpoolMm: -5 })])).toEqual([]);
    expect(placed([section({ fromSpoolMm: -30, toSpoolMm: 5 })])).toHaveLength(1);
  });

  it('are reached one after the other, both ways', () => {
    const all = placed([doubtful, blob, worse]);
    expect(neighbour(all, 0, true)?.id).toBe('m3');
    expect(neighbour(all, 90, true)?.id).toBe('m2');
    expect(neighbour(all, 500, false)?.id).toBe('m2');
    expect(neighbour(all, 600, true)).toBeUndefined();
  });

  it('come off the spool in reverse order of winding', () => {
    expect(outerFirst(placed([worse, blob])).map((s) => s.id)).toEqual(['m1', 'm2']);
  });
});

describe('the cut list of a run', () => {
  it('gathers neighbours that are alike, and names the diameter furthest off', () => {
    const necks = [1, 2, 3].map((i) =>
      section({
        id: `m${i}`,
        kind: 'neck',
        fromGaugeMm: 500 * i,
        toGaugeMm: 500 * i + 4,
        peakMm: 1.6 - 0.01 * (i % 3),
      }),
    );
    const far = section({ id: 'm7', kind: 'neck', fromGaugeMm: 9000, toGaugeMm: 9004, peakMm: 1.5 });
    const rows = gathered(placed([...necks, far]), 1.75);
    expect(rows.map(({ fromSpoolMm, toSpoolMm, places, peakMm }) => [fromSpoolMm, toSpoolMm, places, peakMm])).toEqual([
      [9000, 9004, 1, 1.5],
      [500, 1504, 3, 1.58],
    ]);
    // What a user wrote, another verdict or another kind stays on its own.
    const others = [section({ ...necks[1], note: 'kept' }), section({ ...necks[1], verdict: 'doubtful' }), blob];
    for (const other of others) expect(gathered(placed([necks[0]!, other]), 1.75)).toHaveLength(2);
  });
});
