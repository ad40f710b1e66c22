import { describe, expect, it } from 'vitest';
import { BlobAndNeckTracker, mergeGapMm } from '../../server/strand/blob-and-neck-tracker.ts';
import { GaugeNoise } from '../../server/strand/gauge-noise.ts';
import type { MeasuredSection } from '../../server/strand/section.ts';
import { RunSections } from '../../server/strand/working-section.ts';
import { normal, seeded } from '../chance.ts';

/** Of a gauge that resolves a nanometre. */
const QUIET = new GaugeNoise();
for (let i = 0; i < 20_000; i++) QUIET.step(1.75 + (i % 2) * 1e-6);

it('merges within a centimetre, or one and a half readings where those are further apart', () => {
  expect([4, 8, 0, Number.NaN].map(mergeGapMm)).toEqual([10, 12, 10, 10]);
});

// Limit 2, U = 0.125: on the thick side strand is surely within up to 1.875. Binary fractions keep the places exact.
describe.each([
  ['blob', 1],
  ['neck', -1],
] as const)('a %s', (kind, side) => {
  const mirrored = (value: number) => 2 + side * (value - 2);
  const area = (value: number) => (Math.PI / 4) * Math.abs(mirrored(value) ** 2 - 4);
  const [GOOD, NEAR, HIGH] = [1.75, 2.0625, 2.5];

  class Run {
    readonly sections = new RunSections(1);
    readonly tracker: BlobAndNeckTracker;
    readonly #last = new Map<number, MeasuredSection>();
    pitchMm = 1;
    everyMs = 10;
    sigmaMm = 0;
    isNoisy = false;
    atMm = -1;
    timeMs = -10;

    constructor(noise = QUIET) {
      this.tracker = new BlobAndNeckTracker(kind, this.sections, noise);
      this.limit(2);
    }

    limit(value: number, uncertaintyMm = 0.125): void {
      this.tracker.setLimit(mirrored(value), uncertaintyMm);
    }

    /** Readings as of the thick side. */
    read(...values: readonly number[]): this {
      for (const value of values) {
        this.atMm += this.pitchMm;
        this.timeMs += this.everyMs;
        const diameterMm = mirrored(value);
        const { timeMs, atMm: gaugeMm, pitchMm, sigmaMm, isNoisy, tracker } = this;
        if (tracker.idle && !tracker.isBeyond(diameterMm)) tracker.pass(timeMs, gaugeMm, diameterMm);
        else
          tracker.step({
            ...{ timeMs, gaugeMm, diameterMm, pitchMm, sigmaMm, isNoisy },
            ...{ baselineMm: mirrored(GOOD), outOfRoundMm: Number.NaN, averagedMm: 0 },
          });
      }
      return this;
    }

    /** Good strand, so long that nothing is merged across it. */
    pass(): this {
      return this.read(...Array<number>(14).fill(GOOD));
    }

    /** What was reported since the last look. */
    get news(): readonly MeasuredSection[] {
      const changed = this.sections.takeChanged();
      for (const section of changed) this.#last.set(section.ordinal, section);
      return changed;
    }

    /** The last report of each section. */
    get found(): readonly MeasuredSection[] {
      void this.news;
      return [...this.#last.values()];
    }
  }

  it('lies between the places where the strand was no longer surely within', () => {
    const [section, ...more] = new Run().read(GOOD, 2, 2.25, HIGH, 2.125, GOOD).pass().found;
    expect(more).toEqual([]);
    expect(section).toMatchObject({ ordinal: 1, kind, certainty: 'sure', verdict: 'discard', open: false });
    expect(section).toMatchObject({ fromMm: 0.5, fromTimeMs: 5, peakMm: mirrored(HIGH), peakAtMm: 3 });
    expect(section).toMatchObject({ toMm: 4 + 2 / 3, toTimeMs: 40 + 20 / 3 });
  });

  it('ends at a reading that is just surely within again', () => {
    expect(new Run().read(GOOD, HIGH, HIGH, HIGH, 1.875).pass().found).toMatchObject([{ toMm: 4, toTimeMs: 40 }]);
  });

  it('has the volume beyond the limit itself, without what is only in doubt', () => {
    const volume = (...values: number[]) => new Run().read(GOOD, ...values, GOOD).pass().found[0]?.volumeBeyondMm3;
    // The flanks cross the limit after half, and a third, of the last step.
    const flanks = area(2.25) / 4 + area(2.125) / 6;
    expect(volume(2.25, HIGH, 2.125)).toBeCloseTo(
      flanks + (area(2.25) + area(HIGH)) / 2 + (area(HIGH) + area(2.125)) / 2,
      9,
    );
    expect(volume(1.9375, 1.9375, 1.9375)).toBe(0);
    expect(volume(2, 2, 2)).toBe(0);
    expect(volume(2, 2.25, 2)).toBeCloseTo(area(2.25), 9);
  });

  it('has its places, times and volume by the distance of the readings', () => {
    const run = new Run();
    run.pitchMm = 2;
    const [section] = run.read(GOOD, GOOD, 2.25, 2.25, 2.25, GOOD).found;
    expect(section).toMatchObject({ fromMm: 3.5, fromTimeMs: 12.5, toMm: 10.5, toTimeMs: 47.5 });
    expect(section?.volumeBeyondMm3).toBeCloseTo(5 * area(2.25), 9);
  });

  it('starts and ends within a step in which the limits were changed', () => {
    const lowered = new Run().read(1.75, 1.75);
    lowered.limit(1.625);
    expect(lowered.read(1.75, 1.75, 1.875).found).toMatchObject([{ fromMm: 1, fromTimeMs: 10 }]);
    for (const after of [1.75, 2.0625]) {
      const raised = new Run().read(GOOD, 2, 2, 2);
      raised.limit(2.25);
      expect(raised.read(after).pass().found).toMatchObject([{ fromMm: 0.5, toMm: 3, toTimeMs: 30 }]);
    }
  });

  it('is only what is thicker or thinner than surely within', () => {
    const { tracker } = new Run();
    expect([1.875, 1.876].map((value) => tracker.isBeyond(mirrored(value)))).toEqual([false, true]);
  });

  it('needs the tracker from its first reading until nothing can be merged with it', () => {
    const run = new Run().read(GOOD);
    expect(run.tracker.idle).toBe(true);
    expect(run.read(HIGH).tracker.idle).toBe(false);
    expect(run.read(HIGH, GOOD).tracker.idle).toBe(false);
    expect(run.pass().tracker.idle).toBe(true);
  });

  it('is merged with the next one up to a centimetre away, and keeps the first of equal peaks', () => {
    const run = new Run().read(GOOD, HIGH, HIGH, HIGH, GOOD);
    const toMm = run.found[0]!.toMm;
    run.atMm = toMm + 9;
    run.read(GOOD);
    expect(run.found).toMatchObject([{ open: true }]);
    run.read(HIGH, HIGH, HIGH).pass();
    expect(run.found).toMatchObject([{ ordinal: 1, peakAtMm: 1 }]);

    const later = new Run().read(GOOD, HIGH, HIGH, HIGH, GOOD);
    later.atMm = toMm + 9.001;
    expect(later.read(GOOD).found).toMatchObject([{ open: false }]);
  });

  it('stays open however slowly the strand moves on', () => {
    const slow = new Run();
    slow.everyMs = 10_000;
    expect(slow.read(GOOD, HIGH, HIGH, HIGH, GOOD, GOOD, GOOD).found).toMatchObject([{ open: true }]);
  });

  it('ends after two seconds where no length is known', () => {
    const run = new Run();
    run.pitchMm = 0;
    run.read(GOOD, HIGH, HIGH, HIGH, GOOD);
    run.timeMs = run.found[0]!.toTimeMs + 1990;
    expect(run.read(GOOD).found).toMatchObject([{ open: true, fromMm: -1, toMm: -1 }]);
    run.everyMs = 1;
    expect(run.read(GOOD).found).toMatchObject([{ open: false }]);
  });

  describe('is found', () => {
    it('at the second reading, or at the third where readings are close', () => {
      expect(new Run().read(GOOD, HIGH).found).toEqual([]);
      expect(new Run().read(GOOD, HIGH, HIGH).found).toMatchObject([{ open: true }]);
      const close = new Run();
      close.pitchMm = 0.25;
      expect(close.read(GOOD, HIGH, HIGH).found).toEqual([]);
      expect(close.read(HIGH).found).toMatchObject([{ open: true }]);
    });

    it('not where noise explains it', () => {
      const noisy = new Run();
      noisy.sigmaMm = 0.4;
      // Each reading is 0.75 mm off; n of them must be more than 5 σ √n.
      expect(noisy.read(GOOD, HIGH, HIGH, HIGH, HIGH, HIGH, HIGH, HIGH).found).toEqual([]);
      expect(noisy.read(HIGH).found).toMatchObject([{ open: true }]);
      const passing = new Run();
      passing.sigmaMm = 0.4;
      expect(passing.read(GOOD, HIGH, HIGH).pass().found).toEqual([]);
      expect(passing.tracker.glitches).toBe(1);
    });

    it('by a gauge that is too noisy only where it would be sure', () => {
      const run = new Run();
      run.isNoisy = true;
      expect(run.read(GOOD, NEAR, NEAR, NEAR).pass().found).toEqual([]);
      expect(run.tracker.glitches).toBe(1);
      expect(run.read(HIGH, HIGH, HIGH).pass().found).toMatchObject([{ certainty: 'sure' }]);
    });

    it('not in a lone reading, which proves nothing about strand nearby either', () => {
      const run = new Run();
      run.pitchMm = 0.5;
      run.read(GOOD, NEAR, NEAR, NEAR, GOOD, GOOD, HIGH, GOOD, GOOD);
      expect(run.tracker.glitches).toBe(1);
      run.read(NEAR, NEAR, NEAR).pass().pass();
      expect(run.found).toMatchObject([{ peakMm: mirrored(NEAR), certainty: 'inDoubt', doubt: 'nearLimit' }]);
    });
  });

  describe('is in doubt', () => {
    it('until enough readings have seen it', () => {
      const run = new Run().read(GOOD, HIGH, HIGH);
      expect(run.news).toMatchObject([{ certainty: 'inDoubt', doubt: 'fewReadings' }]);
      run.read(HIGH);
      expect(run.news).toMatchObject([{ certainty: 'sure' }]);
      run.read(HIGH);
      expect(run.news).toEqual([]);
    });

    it('near the limit, however many or few have seen it', () => {
      for (const values of [
        [NEAR, NEAR],
        [NEAR, NEAR, NEAR, NEAR],
      ])
        expect(new Run().read(GOOD, ...values, GOOD).found).toMatchObject([
          { certainty: 'inDoubt', doubt: 'nearLimit' },
        ]);
    });

    it('where two readings far beyond are merged with many near the limit', () => {
      const run = new Run().read(GOOD, HIGH, HIGH, GOOD, GOOD);
      expect(run.found).toMatchObject([{ doubt: 'fewReadings' }]);
      run.read(NEAR, NEAR, NEAR).pass();
      expect(run.found).toMatchObject([{ certainty: 'inDoubt', doubt: 'nearLimit' }]);
    });

    it('where only four readings in a row would prove it, and there are three and three', () => {
      const random = normal(seeded(1));
      const lively = new GaugeNoise();
      for (let i = 0; i < 20_000; i++) lively.step(1.75 + 0.03 * random());
      const high = 2.19;
      expect(new Run(lively).read(GOOD, ...[high, high, high], GOOD, ...[high, high, high]).pass().found).toMatchObject(
        [{ certainty: 'inDoubt', doubt: 'nearLimit' }],
      );
      expect(new Run(lively).read(GOOD, ...[high, high, high, high]).pass().found).toMatchObject([
        { certainty: 'sure' },
      ]);
    });

    it('near the limit also after a sure one', () => {
      const run = new Run().read(GOOD, HIGH, HIGH, HIGH).pass().read(NEAR, NEAR, NEAR).pass();
      expect(run.found.map(({ certainty }) => certainty)).toEqual(['sure', 'inDoubt']);
    });
  });

  it('is reported again with a peak that is higher by a hundredth of a millimetre or more', () => {
    const run = new Run().read(GOOD, HIGH, HIGH, HIGH);
    void run.news;
    expect(run.read(HIGH + 0.008, HIGH).news).toEqual([]);
    expect(run.read(HIGH + 0.016).news).toMatchObject([{ peakMm: mirrored(HIGH + 0.016), peakAtMm: 6 }]);
  });

  describe('where measuring stops', () => {
    it('is in doubt after one reading, unless the strand ran out', () => {
      const stopped = new Run().read(GOOD, HIGH);
      stopped.tracker.interrupt(false);
      expect(stopped.found).toMatchObject([{ certainty: 'inDoubt', doubt: 'oneReading', open: false }]);
      const ranOut = new Run().read(GOOD, HIGH);
      ranOut.tracker.interrupt(true);
      expect(ranOut.found).toEqual([]);
      expect(ranOut.tracker.idle).toBe(true);
    });

    it('is none where the strand is good', () => {
      const run = new Run().read(GOOD, GOOD);
      run.tracker.interrupt(false);
      expect(run.found).toEqual([]);
    });

    it('starts at its first reading afterwards', () => {
      const run = new Run().read(GOOD);
      run.tracker.interrupt(false);
      run.atMm = 99;
      run.timeMs = 990;
      const [section] = run.read(HIGH, HIGH, HIGH).found;
      expect(section).toMatchObject({ fromMm: 100, fromTimeMs: 1000, toMm: 102 });
      expect(section?.volumeBeyondMm3).toBeCloseTo(2 * area(HIGH), 9);
    });

    it('may be a lone reading afterwards, except at the start of new strand', () => {
      const first = (lost: boolean) => {
        const run = new Run();
        run.pitchMm = 0.5;
        run.read(GOOD).tracker.interrupt(lost);
        return run.read(HIGH).pass().pass().found;
      };
      expect(first(false)).toMatchObject([{ certainty: 'inDoubt', doubt: 'oneReading' }]);
      expect(first(true)).toEqual([]);
    });
  });

  describe('after a shift of the gauge', () => {
    const three = (value: number) => new Run().read(GOOD, value, value, value);

    it('is no longer sure if the shift may explain it', () => {
      // 0.5 mm beyond the limit.
      for (const end of [false, true]) {
        const run = end ? three(HIGH).pass() : three(HIGH);
        void run.news;
        run.tracker.setShift(0.25, 'gaugeShifted', 0);
        expect(run.news).toEqual([]);
        run.tracker.setShift(0.4375, 'axesDisagree', 0);
        expect(run.news).toMatchObject([{ certainty: 'inDoubt', doubt: 'axesDisagree', open: !end }]);
      }
    });

    it('stays sure if it ended before', () => {
      const run = three(HIGH).pass();
      const { toMm } = run.found[0]!;
      run.tracker.setShift(1, 'gaugeShifted', toMm);
      expect(run.news).toEqual([]);
    });

    it('is judged by its own readings, all of them', () => {
      const apart = three(HIGH).pass().read(2.25, 2.25, 2.25).pass();
      void apart.news;
      apart.tracker.setShift(0.25, 'gaugeShifted', 0);
      expect(apart.news).toMatchObject([{ ordinal: 2, doubt: 'gaugeShifted' }]);
      const merged = three(HIGH).read(GOOD, GOOD, NEAR, NEAR, NEAR);
      merged.tracker.setShift(0.25, 'gaugeShifted', 0);
      expect(merged.found).toMatchObject([{ ordinal: 1, certainty: 'sure' }]);
    });

    it('keeps the doubt that it has', () => {
      const run = three(NEAR);
      void run.news;
      run.tracker.setShift(0.25, 'gaugeShifted', 0);
      expect(run.news).toEqual([]);
    });

    it('is sure later only if it is beyond by more', () => {
      const later = (value: number) => {
        const run = new Run();
        run.tracker.setShift(0.25, 'axesDisagree', 0);
        return run.read(GOOD, value, value, value).pass().found;
      };
      expect(later(HIGH)).toMatchObject([{ certainty: 'sure' }]);
      expect(later(2.25)).toMatchObject([{ certainty: 'inDoubt', doubt: 'axesDisagree' }]);
      expect(later(NEAR)).toMatchObject([{ certainty: 'inDoubt', doubt: 'nearLimit' }]);
    });

    it('is not judged again by later limits when the shift is over', () => {
      const run = three(2.25).pass();
      void run.news;
      run.limit(2, 0.5);
      run.tracker.setShift(0, 'gaugeShifted', 0);
      expect(run.news).toEqual([]);
    });

    it('is remembered over 32 sure ones, however many are in doubt', () => {
      const reconsidered = (later: number, value: number) => {
        const run = three(HIGH).pass();
        for (let i = 0; i < later; i++) run.read(value, value, value).pass();
        void run.news;
        run.tracker.setShift(1, 'gaugeShifted', 0);
        return run.news.length;
      };
      expect([reconsidered(31, HIGH), reconsidered(32, HIGH), reconsidered(40, NEAR)]).toEqual([32, 32, 1]);
    });
  });
});
