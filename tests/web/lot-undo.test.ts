import { describe, expect, it } from 'vitest';
import { changesBetween, untouchedSince } from '../../web/lot/lot-undo.ts';

type Lot = { name: string; preparation: string; values: Record<string, number> };
const run = (runId: number, lot: Lot | null) => ({ runId, startedMs: 0, timeZone: 'UTC', lot, proposed: {} });
const grey = (dryingH: number): Lot => ({ name: 'Grey supports', preparation: '', values: { dryingH, sieveMm: 4 } });

describe('undoing a change of several runs', () => {
  const before = [run(3, grey(4)), run(2, null), run(1, grey(8))];
  const after = [run(3, grey(8)), run(2, { name: '', preparation: '', values: { dryingH: 8 } }), run(1, grey(8))];

  it('concerns the runs that were changed, with what they had', () => {
    expect(changesBetween(before, after)).toEqual([
      { runId: 3, before: grey(4), after: grey(8) },
      { runId: 2, before: null, after: after[1]!.lot },
    ]);
  });

  it('leaves out what somebody changed again, in whatever order its fields arrive', () => {
    const changes = changesBetween(before, after);
    const turned = { name: 'Grey supports', preparation: '', values: { sieveMm: 4, dryingH: 8 } };
    expect(untouchedSince(changes, [run(3, turned), run(2, grey(1))]).map(({ runId }) => runId)).toEqual([3]);
    expect(untouchedSince(changes, [run(3, grey(8)), run(2, null)]).map(({ runId }) => runId)).toEqual([3]);
  });
});
