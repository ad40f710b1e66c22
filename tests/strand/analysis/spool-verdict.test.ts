import { describe, expect, it } from 'vitest';
import { planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { CutRequest, PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import type { DoneCut } from '../../../server/strand/plan/done-cuts.ts';
import { flowError } from '../../../server/strand/verdict/flow-error.ts';
import {
  afterCuts,
  figureReasons,
  type SpoolVerdict,
  spoolVerdict,
} from '../../../server/strand/verdict/spool-verdict.ts';
import { WHOLE_SPOOL } from './whole-spool.ts';

const about = {
  name: 'spool Moss 7',
  nominalMm: 1.75,
  profile: { name: 'Heron', hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05 },
};
const verdictOf = (changes: Partial<CutRequest>, done: readonly DoneCut[] = []): SpoolVerdict =>
  spoolVerdict({ ...about, plan: planCuts({ ...WHOLE_SPOOL, ...changes }, done) });
const verdictOn = (...stretches: PlanStretch[]): SpoolVerdict => verdictOf({ stretches });
const stretch = (fromMm: number, toMm: number, fate: PlanStretch['fate']): PlanStretch => ({ fromMm, toMm, fate });

const CLEAN = 'Every measured diameter is certainly within what the printer takes.';
const DISCARDED = 'is certainly too thick or too thin, or was marked for discard.';
const DOUBTFUL = 'is in doubt: the gauge cannot tell whether it is beyond a limit.';

describe('the reasons of a verdict', () => {
  it('give the length of each fate that there is, and of no other', () => {
    expect(verdictOn().reasons).toEqual([CLEAN]);
    expect(verdictOn(stretch(40_000, 40_020, 'discard')).reasons).toEqual([`20 mm ${DISCARDED}`]);
    expect(verdictOn(stretch(40_000, 41_500, 'doubtful')).reasons).toEqual([`1.50 m ${DOUBTFUL}`]);
    expect(verdictOn(stretch(40_000, 40_500, 'unknown')).reasons).toEqual([
      '500 mm (0.5 %) was not reliably measured.',
    ]);
  });

  it('add to a spool that is not fit that no piece would be left', () => {
    const everyFourMetres = Array.from({ length: 25 }, (_, i) => stretch(i * 4000, i * 4000 + 10, 'discard'));
    const { sentence, reasons } = verdictOn(...everyFourMetres);
    expect(sentence).toBe('Spool Moss 7 is not fit to print on Heron.');
    expect(reasons).toEqual([`250 mm ${DISCARDED}`, 'No piece of at least 5.00 m would be left after cutting.']);
  });

  it('mention the flow only where it is visibly off, and the share within tolerance only where it is known', () => {
    const flow = (diameterMm: number) =>
      flowError({ from: 0, step: 10, values: new Float64Array(100).fill(diameterMm) }, 1.75);
    // (1.76 / 1.75)² is 1.1 % more, (1.8 / 1.75)² 5.8 %, (1.7 / 1.75)² 5.6 % less.
    expect(figureReasons(null, 0.05, flow(1.76))).toEqual([]);
    expect(figureReasons(null, 0.05, flow(1.8))).toEqual(['The flow is 5.8 % off: set it to 94.5 %.']);
    expect(figureReasons(null, 0.05, flow(1.7))).toEqual(['The flow is −5.6 % off: set it to 106.0 %.']);
  });
});

describe('unmeasured strand', () => {
  it('leaves a spool fit up to one percent', () => {
    expect(verdictOn(stretch(40_000, 41_000, 'unknown'))).toMatchObject({ fitness: 'fit', afterCutting: { coils: 2 } });
    expect(verdictOn(stretch(40_000, 41_001, 'unknown')).fitness).toBe('unknown');
  });

  it('makes a spool not known, not unfit, where it alone leaves no coil', () => {
    // The longest measured piece is 2 m.
    const stretches = [
      stretch(2000, 39_000, 'unknown'),
      stretch(40_000, 40_020, 'discard'),
      stretch(41_000, 98_000, 'unknown'),
    ];
    expect(verdictOn(...stretches).fitness).toBe('unknown');
  });
});

describe('the fitness of a spool', () => {
  it('needs a coil of the shortest length, no more', () => {
    const stretches = [stretch(40_000, 40_020, 'discard')];
    const { longestCoilMm } = verdictOf({ stretches }).afterCutting!;
    expect(verdictOf({ stretches, shortestCoilMm: longestCoilMm }).fitness).toBe('fitAfterCutting');
    expect(verdictOf({ stretches, shortestCoilMm: longestCoilMm + 1 }).fitness).toBe('notFit');
    // Its doubtful strand may be good: then a longer coil is left.
    const doubtful = [stretch(40_000, 40_020, 'discard'), stretch(60_000, 60_020, 'doubtful')];
    expect(verdictOf({ stretches: doubtful, shortestCoilMm: longestCoilMm }).fitness).toBe('unknown');
    expect(verdictOf({ stretches: doubtful, shortestCoilMm: longestCoilMm + 1 }).fitness).toBe('notFit');
  });

  it('does not depend on what the user chooses to keep, or has cut', () => {
    const spools = [
      [stretch(40_000, 40_020, 'discard')],
      [stretch(0, 99_000, 'doubtful')],
      [stretch(2000, 39_000, 'unknown'), stretch(40_000, 40_020, 'discard'), stretch(41_000, 98_000, 'unknown')],
      Array.from({ length: 25 }, (_, i) => stretch(i * 4000, i * 4000 + 10, 'discard')),
    ];
    const thrownAway: DoneCut = { action: 'discard', countedMm: 100_000, reachedEnd: true };
    expect(spools.map((stretches) => verdictOf({ stretches }).fitness)).toEqual([
      'fitAfterCutting',
      'unknown',
      'unknown',
      'notFit',
    ]);
    for (const stretches of spools) {
      const { fitness } = verdictOf({ stretches });
      for (const objective of ['mostLength', 'fewestCuts'] as const)
        for (const doubtful of ['keep', 'cut'] as const)
          for (const unknown of ['keep', 'cut'] as const)
            for (const done of [[], [thrownAway]])
              expect(verdictOf({ stretches, objective, doubtful, unknown }, done).fitness).toBe(fitness);
    }
  });
});

describe('what stays after cutting', () => {
  it('is not mentioned for a spool that is whole and good, until it is cut', () => {
    expect(verdictOf({}).afterCutting).toBeNull();
    const cut = verdictOf({}, [{ action: 'keep', countedMm: 30_000 }]);
    expect(cut).toMatchObject({ fitness: 'fit', afterCutting: { keptMm: 100_000, coils: 2, cuts: 1 } });
  });

  it('is summed up in the sentence: lengths, coils, and how much of it is in doubt', () => {
    const stretches = [stretch(50_000, 50_020, 'discard'), stretch(70_000, 71_500, 'doubtful')];
    const kept = (verdict: SpoolVerdict): string => `${(verdict.afterCutting!.keptMm / 1000).toFixed(2)} m`;
    const firm = verdictOf({ stretches });
    expect(firm.sentence).toBe(`Spool Moss 7 is fit to print on Heron after cutting: ${kept(firm)} stays in 3 coils.`);
    const lenient = verdictOf({ stretches, doubtful: 'keep' });
    expect(lenient.sentence).toBe(
      `Spool Moss 7 is fit to print on Heron after cutting: ${kept(lenient)} stays in 2 coils, 1.50 m of that in doubt.`,
    );
    // The coil with the doubtful strand was cut too late: it does not stay.
    const spoilt = verdictOf({ stretches, doubtful: 'keep' }, [{ action: 'keep', countedMm: 60_000 }]);
    expect(spoilt.sentence).toBe(
      `Spool Moss 7 is fit to print on Heron after cutting: ${kept(spoilt)} stays in one coil.`,
    );
  });

  it('changes with each cut, but not why the verdict is not known', () => {
    const plan = planCuts({ ...WHOLE_SPOOL, stretches: [stretch(10_000, 50_000, 'unknown')] });
    const before = spoolVerdict({ ...about, plan });
    const after = afterCuts(
      before,
      planCuts(plan.request, [{ action: 'discard', countedMm: 20_000 }]),
      about.name,
      about.profile.name,
    );
    expect(after.sentence).toBe(before.sentence);
    // Another count has another slip of 26 mm, and the unmeasured stretch two ends.
    expect(after.afterCutting!.keptMm).toBe(before.afterCutting!.keptMm - 20_000 - 2 * 26);
  });
});
