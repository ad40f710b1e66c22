import { describe, expect, it } from 'vitest';
import { LostTracker, UnknownTracker } from '../../server/strand/absence-trackers.ts';
import { Excursion, type StrandSample } from '../../server/strand/excursion.ts';
import { LongRunTracker } from '../../server/strand/long-run-tracker.ts';
import type { MeasuredSection } from '../../server/strand/section.ts';
import { newSection, RunSections } from '../../server/strand/working-section.ts';

/** The last report of each section. */
class Reports {
  readonly sections = new RunSections(1);
  readonly #last = new Map<number, MeasuredSection>();

  get all(): readonly MeasuredSection[] {
    for (const section of this.sections.takeChanged()) this.#last.set(section.ordinal, section);
    return [...this.#last.values()];
  }
}

// Limit 2, U = 0.1, hysteresis 0.2: on the thick side a run starts above 1.9 and ends below 1.7.
describe.each([
  ['thick', 1],
  ['thin', -1],
] as const)('a long run on the %s side', (_, side) => {
  const mirrored = (value: number) => 2 + side * (value - 2);

  class Run {
    readonly reports = new Reports();
    readonly tracker = new LongRunTracker('offTolerance', side, this.reports.sections, true);
    /** Standard deviation of the means. */
    noise = 0;
    /** Strand that each is the mean of, mm. */
    spanMm = 1e9;
    #atMm = -100;

    constructor() {
      this.tracker.setLimit(2, 0.1, 0.2, 300);
    }

    /** Means 100 mm apart, from 0 on, as of the thick side; measuring started at −50. A second takes 100 mm. */
    means(...values: number[]): this {
      for (const value of values) this.at(this.#atMm + 100, value);
      return this;
    }

    at(placeMm: number, value: number): this {
      this.#atMm = placeMm;
      this.tracker.step(placeMm * 10, placeMm, mirrored(value), -50, -500, this.noise, this.spanMm);
      return this;
    }

    get found(): readonly MeasuredSection[] {
      return this.reports.all;
    }
  }

  it('lies between the places where the mean crossed the limit less the uncertainty', () => {
    const run = new Run().means(1.8, 2.2, 2.2, 2.1);
    expect(run.found).toEqual([]);
    // 1.9 is a quarter of the way from 1.8 to 2.2, and a third of that from 2.1 to 1.5.
    const [section, ...more] = run.means(1.5).found;
    expect(more).toEqual([]);
    expect(section).toMatchObject({ kind: 'offTolerance', verdict: 'doubtful', open: false, peakAtMm: 100 });
    expect(section?.fromMm).toBeCloseTo(25, 9);
    expect(section?.toMm).toBeCloseTo(300 + 100 / 3, 9);
    expect(section?.fromTimeMs).toBeCloseTo(250, 6);
    expect(section?.toTimeMs).toBeCloseTo(3000 + 1000 / 3, 6);
    expect(section?.peakMm).toBeCloseTo(mirrored(2.2), 9);
    // π/4 · |d² − 2²| over 175 mm and 100 mm of what is beyond the limit itself.
    const area = (value: number) => (Math.PI / 4) * Math.abs(mirrored(value) ** 2 - 4);
    expect(section?.volumeBeyondMm3).toBeCloseTo(area(2.2) * 175 + area(2.1) * 100, 6);
  });

  it('is sure once its mean over about the length is beyond the limit by more than the uncertainty', () => {
    const certainty = (value: number, shift = 0) => {
      const run = new Run();
      run.tracker.setShift(shift, 'gaugeShifted');
      return run.means(1.8, ...Array(12).fill(value), 1.5).found[0]?.certainty;
    };
    expect([certainty(2.05), certainty(2.09), certainty(2.12)]).toEqual(['inDoubt', 'inDoubt', 'sure']);
    expect([certainty(2.12, 0.1), certainty(2.22, 0.1)]).toEqual(['inDoubt', 'sure']);
    // Over 300 mm, means over 75 mm scatter half as much; twice that must be beyond, too.
    const scattering = (noise: number) => {
      const run = new Run();
      [run.noise, run.spanMm] = [noise, 75];
      return run.means(1.8, ...Array(12).fill(2.15), 1.4).found[0]?.certainty;
    };
    expect([scattering(0.1), scattering(0.12)]).toEqual(['sure', 'inDoubt']);
    // One high mean among others proves nothing.
    expect(new Run().means(1.8, 2, 2, 2, 2.14, 2, 2, 2, 1.5).found[0]?.certainty).toBe('inDoubt');
  });

  it('is no longer sure if the gauge turns out to have shifted meanwhile', () => {
    const run = new Run().means(1.8, 2.2, 2.2, 2.2, 2.2, 2.2);
    expect(run.found[0]).toMatchObject({ certainty: 'sure', open: true });
    run.tracker.setShift(0.05, 'gaugeShifted');
    expect(run.found[0]?.certainty).toBe('sure');
    run.tracker.setShift(0.2, 'gaugeShifted');
    expect(run.found[0]).toMatchObject({ certainty: 'inDoubt', doubt: 'gaugeShifted', open: true });
  });

  it('is reported again once it becomes sure', () => {
    const run = new Run().means(1.8, ...Array(6).fill(2.05));
    expect(run.found).toMatchObject([{ certainty: 'inDoubt', open: true }]);
    expect(run.means(2.3, 2.3).found).toMatchObject([{ ordinal: 1, certainty: 'sure', open: true }]);
    // It starts from strand that is just no longer surely within, so a run of little more than the limit takes a while.
    expect(new Run().means(1.8, 2.105, 2.105, 2.105, 1.5).found).toMatchObject([{ certainty: 'inDoubt' }]);
  });

  it('has no volume while it may be within the limit, or where values are no diameters', () => {
    const [doubtful] = new Run().means(1.8, ...Array(5).fill(1.95), 1.5).found;
    expect(doubtful?.volumeBeyondMm3).toBe(0);
    // A ninth of the way from 1.95 to 1.5.
    expect(doubtful?.toMm).toBeCloseTo(500 + 100 / 9, 9);
    const reports = new Reports();
    const oval = new LongRunTracker('outOfRound', side, reports.sections, false);
    oval.setLimit(2, 0.1, 0.2, 300);
    for (let atMm = 0; atMm < 500; atMm += 100) oval.step(atMm, atMm, mirrored(2.3), 0, 0, 0, 20);
    expect(reports.all).toMatchObject([{ kind: 'outOfRound', volumeBeyondMm3: null }]);
  });

  it('starts and ends at each crossing, wherever on the strand', () => {
    const run = new Run().means(1.8, ...Array(5).fill(2.05), 1.5, 1.75, 1.75, ...Array(5).fill(2.2), 1.5);
    const [first, second, ...more] = run.found;
    expect(more).toEqual([]);
    // 0.15 of 0.55 down from 2.05; 0.15 of 0.45 up from 1.75, which starts none; 0.3 of 0.7 down from 2.2.
    expect(first?.toMm).toBeCloseTo(500 + 300 / 11, 9);
    expect(second?.fromMm).toBeCloseTo(800 + 100 / 3, 9);
    expect(second?.fromTimeMs).toBeCloseTo(8000 + 1000 / 3, 6);
    expect(second?.toMm).toBeCloseTo(1300 + 300 / 7, 9);
  });

  it('starts and ends where the mean is not surely within, its noise included, but does not count because of that', () => {
    const noisy = () => {
      const run = new Run();
      run.noise = 0.09375;
      return run;
    };
    // √(0.1² + (2 · 0.09375)²) = 0.2125: from 1.7875 on, the mean is not surely within 2.
    const run = noisy().means(1.7, 1.85, 1.85, ...Array(5).fill(2.2), 1.8, 1.5, 1.5);
    expect(run.found).toMatchObject([{ open: false }]);
    expect(run.found[0]?.fromMm).toBeCloseTo((100 * 0.0875) / 0.15, 9);
    expect(run.found[0]?.fromTimeMs).toBeCloseTo((1000 * 0.0875) / 0.15, 6);
    expect(run.found[0]?.toMm).toBeCloseTo(800 + (100 * 0.0125) / 0.3, 9);
    expect(run.found[0]?.toTimeMs).toBeCloseTo(8000 + (1000 * 0.0125) / 0.3, 6);
    expect(noisy().means(1.7, ...Array(9).fill(1.85), 2.2, 2.2, 1.85, 1.85, 1.5).found).toEqual([]);
    // Where noise is more than the hysteresis, too: √(0.1² + 0.75²) = 0.7566.
    run.noise = 0.375;
    run.at(1100, 1.2).at(1200, 2.2).at(1600, 2.2);
    expect(run.found[1]?.fromMm).toBeCloseTo(1100 + (100 * 0.0434) / 1, 1);
  });

  it('starts where the one before it ended if the mean has not been surely within since', () => {
    const run = new Run();
    run.noise = 0.2;
    run.means(1.5, ...Array(5).fill(2.2), 1.65, 1.65, ...Array(5).fill(2.2), 1.5);
    expect(run.found).toMatchObject([
      { toMm: 600, toTimeMs: 6000 },
      { fromMm: 600, fromTimeMs: 6000 },
    ]);
  });

  it('counts only if it is longer than the given length', () => {
    // From where measuring started, −50.
    expect(new Run().means(2.2, 2.2, 2.2).at(250, 2.2).found).toEqual([]);
    expect(new Run().means(2.2, 2.2, 2.2).at(251, 2.2).found).toMatchObject([
      { fromMm: -50, fromTimeMs: -500, open: true },
    ]);
    const short = new Run().means(1.8, 2.3, 2.3);
    short.tracker.setShift(1, 'gaugeShifted');
    expect(short.found).toEqual([]);
    short.means(1.5, 1.5).tracker.interrupt(500, 5000);
    expect(short.found).toEqual([]);
  });

  it('is not split by a mean within the hysteresis, which is no part of its end', () => {
    const run = new Run().means(1.8, 2.2, 2.2, 2.2, 2.2, 1.75, 2.2, 1.75, 1.75);
    run.tracker.interrupt(850, 8500);
    expect(run.found).toHaveLength(1);
    // 1.9 is two thirds of the way from 2.2 to 1.75.
    expect(run.found[0]?.toMm).toBeCloseTo(600 + 200 / 3, 9);
    expect(run.found[0]?.toTimeMs).toBeCloseTo(6000 + 2000 / 3, 6);
    expect(run.found[0]?.open).toBe(false);
    // Below the hysteresis it ends.
    expect(new Run().means(1.8, 2.2, 2.2, 2.2, 2.2, 1.69, 2.2, 2.2).found).toMatchObject([{ open: false }]);
    // Nor is it split where noise explains how far inside a mean is.
    const noisy = () => {
      const noisyRun = new Run();
      noisyRun.noise = 0.09375;
      return noisyRun.means(1.8, 2.2, 2.2, 2.2, 2.2);
    };
    // 1.9 is 18 mm of the way from 2.2 at 400 to 1.53 at 440, and noise may last for 80 mm.
    expect(noisy().at(440, 1.53).at(497, 1.53).at(500, 2.2).at(600, 2.2).found).toMatchObject([{ open: true }]);
    expect(noisy().at(440, 1.53).at(499, 1.53).at(500, 2.2).at(600, 2.2).found).toMatchObject([{ open: false }]);
    expect(noisy().at(440, 1.52).at(500, 2.2).at(600, 2.2).found).toMatchObject([{ open: false }]);
    // The mean over all of a return scatters less than the last one: over 46 mm 0.21 is more than noise, over 10 mm it is not.
    const short = noisy();
    short.spanMm = 20;
    expect(short.at(402, 1.69).at(410, 1.69).at(411, 2.2).at(600, 2.2).found).toMatchObject([{ open: true }]);
    const long = noisy();
    long.spanMm = 20;
    expect(long.at(402, 1.69).at(446, 1.69).at(460, 2.2).at(600, 2.2).found).toMatchObject([{ open: false }]);
    // 0.2125 inside, as below.
    expect(long.found[0]?.toMm).toBeCloseTo(400 + (2 * 0.4125) / 0.51, 9);
    // Strand in the hysteresis does not start one either.
    expect(new Run().means(1.8, 1.85, 1.85, 1.85, 1.85, 1.85).found).toEqual([]);
  });

  it('is not joined by a touch of the limit over a return more than four times as long', () => {
    // 1.9 is crossed 0.5 mm before and behind a mean of 2 among means of 1.8, 1 mm apart, and the hysteresis goes down to 1.7.
    const touchAt = (run: Run, atMm: number) =>
      run
        .at(atMm - 1, 1.8)
        .at(atMm, 2)
        .at(atMm + 1, 1.8);
    const startWith = (gapMm: number) => {
      const run = touchAt(new Run(), 0).at(gapMm, 1.8);
      return run.at(gapMm + 1, 2).at(gapMm + 400, 2).found[0]?.fromMm;
    };
    // A millimetre is beyond, and from 0.5 mm on it is within up to 0.5 mm behind the gap.
    expect(startWith(1)).toBeCloseTo(-0.5, 9);
    expect(startWith(3)).toBeCloseTo(-0.5, 9);
    expect(startWith(5)).toBeCloseTo(5.5, 9);
    expect(startWith(60)).toBeCloseTo(60.5, 9);
    const ended = () => new Run().at(-1, 1.8).at(0, 2).at(400, 2).at(401, 1.8);
    const behind = (gapMm: number) =>
      touchAt(ended(), 401 + gapMm)
        .at(402 + gapMm, 1.8)
        .at(450 + gapMm, 1.5).found[0]?.toMm;
    expect(behind(1)).toBeCloseTo(402.5, 9);
    expect(behind(3)).toBeCloseTo(404.5, 9);
    expect(behind(5)).toBeCloseTo(400.5, 9);
    expect(behind(60)).toBeCloseTo(400.5, 9);
    // Two of them count together: 2 mm of the 10 behind the run.
    expect(touchAt(touchAt(ended(), 408), 410).at(450, 1.5).found[0]?.toMm).toBeCloseTo(410.5, 9);
    expect(touchAt(touchAt(ended(), 408), 412).at(450, 1.5).found[0]?.toMm).toBeCloseTo(400.5, 9);
    // Touches alone are no run, however many, nor is what they leave long enough.
    const many = new Run();
    for (let i = 0; i < 100; i++) touchAt(many, 6 * i);
    expect(many.found).toEqual([]);
    const short = new Run().at(-1, 1.8).at(0, 2).at(290, 2).at(291, 1.8);
    touchAt(short, 310).tracker.interrupt(311, 3110);
    expect(short.found).toEqual([]);
  });

  it('goes on after a break of up to a centimetre', () => {
    const long = () => new Run().means(1.8, 2.2, 2.2, 2.2, 2.2);
    const joined = long().at(402, 1.5).at(410, 1.5).at(412, 2.2).at(500, 2.2);
    expect(joined.found).toMatchObject([{ open: true, toMm: 500 }]);
    const ended = long().at(402, 1.5).at(411, 1.5).at(412, 2.2).at(500, 2.2);
    expect(ended.found).toMatchObject([{ open: false }]);
    expect(ended.found[0]?.toMm).toBeCloseTo(400 + 6 / 7, 9);
    // Limits that become narrower meanwhile do not make longer what has ended.
    const narrowed = long().at(402, 1.5);
    narrowed.tracker.setLimit(mirrored(1.5), 0.1, 0.2, 300);
    expect(narrowed.at(404, 1).at(420, 1).found[0]?.toMm).toBeCloseTo(400 + 6 / 7, 9);
  });

  it('takes a mean exactly at a limit for within', () => {
    // Limit less uncertainty 1.75, less hysteresis 1.5: numbers that are exact in binary.
    const exact = (...values: number[]) => {
      const run = new Run();
      run.tracker.setLimit(2, 0.25, 0.25, 300);
      return run.means(...values);
    };
    expect(exact(1, ...Array(6).fill(1.75)).found).toEqual([]);
    expect(exact(1, 1.75, 1.75, ...Array(5).fill(2.5)).found).toMatchObject([{ fromMm: 200, open: true }]);
    expect(exact(1, ...Array(6).fill(2.5), 1.5).found).toMatchObject([{ toMm: 675, open: false }]);
    const returned = exact(1, ...Array(6).fill(2.5), 1.75);
    returned.tracker.interrupt(750, 7500);
    expect(returned.found).toMatchObject([{ toMm: 700, toTimeMs: 7000 }]);
    // Sure is only what is more than the uncertainty beyond: 2.25 never is, however long.
    const atMost = exact(1).at(200, 2.25).at(400, 2.25).at(600, 2.25).at(800, 2.25);
    expect(atMost.found).toMatchObject([{ certainty: 'inDoubt' }]);
    // A break of exactly a centimetre, from halfway between 2.25 and 1.25.
    const joined = exact(1, ...Array(4).fill(2.25))
      .at(402, 1.25)
      .at(411, 1.25)
      .at(412, 2.25)
      .at(500, 2.25);
    expect(joined.found).toMatchObject([{ toMm: 500, open: true }]);
  });

  it('lasts to the end of what was measured', () => {
    const run = new Run().means(1.8, 2.2, 2.2, 2.2);
    run.tracker.interrupt(330, 3300);
    expect(run.found).toMatchObject([{ toMm: 330, toTimeMs: 3300, open: false }]);
    // Measuring starts again elsewhere, so no crossing is known there.
    run.tracker.step(9000, 900, mirrored(2.2), 850, 8500, 0, 20);
    run.tracker.step(20_000, 2000, mirrored(2.2), 850, 8500, 0, 20);
    expect(run.found).toMatchObject([{ toMm: 330 }, { fromMm: 850, fromTimeMs: 8500, open: true }]);
    // It is not shortened by an end that was known before its last mean.
    run.tracker.interrupt(1900, 19_000);
    expect(run.found[1]).toMatchObject({ toMm: 2000, toTimeMs: 20_000, open: false });
    // Strand in the hysteresis starts none after a break either.
    run.tracker.step(25_000, 2500, mirrored(1.75), 2450, 24_500, 0, 20);
    run.tracker.step(26_000, 2600, mirrored(2.2), 2450, 24_500, 0, 20);
    run.tracker.step(30_000, 3000, mirrored(2.2), 2450, 24_500, 0, 20);
    expect(run.found[2]?.fromMm).toBeCloseTo(2500 + 100 / 3, 9);
  });
});

describe('strand that was not measured', () => {
  const unknown = () => {
    const reports = new Reports();
    const tracker = new UnknownTracker(reports.sections);
    tracker.setLimit(5);
    return { reports, tracker };
  };

  it.each([
    // In 5 mm a blob can hide; a pitch and a half is a reading that came late.
    [2, 5, false],
    [2, 5.1, true],
    [4, 6, false],
    [4, 6.1, true],
    [0, 5.1, true],
  ])('with a pitch of %f mm and a gap of %f mm: %s', (pitchMm, gapMm, isUnknown) => {
    const { reports, tracker } = unknown();
    tracker.gap(1000, 2000, gapMm, 100, pitchMm);
    expect(tracker.idle).toBe(!isUnknown);
    expect(reports.all).toMatchObject(
      isUnknown
        ? [{ kind: 'unknown', fromMm: 100 - gapMm, toMm: 100, fromTimeMs: 1000, toTimeMs: 2000, verdict: 'doubtful' }]
        : [],
    );
  });

  it.each([
    [1, 3, false],
    [1, 3.1, true],
    [0.1, 2, false],
    [0.1, 2.1, true],
    [0, 2.1, true],
  ])('with a pitch of %f mm and %f mm of readings without a value: %s', (pitchMm, mm, isUnknown) => {
    const { reports, tracker } = unknown();
    tracker.noValue(50, 1000, 50 + mm, 2000, pitchMm);
    expect(reports.all.length).toBe(isUnknown ? 1 : 0);
  });

  it('is one stretch up to the gap across which sections are merged', () => {
    const { reports, tracker } = unknown();
    tracker.noValue(50, 1000, 60, 2000, 1);
    tracker.pass(70, 1);
    expect(reports.all).toMatchObject([{ open: true }]);
    tracker.noValue(70, 2500, 75, 3000, 1);
    expect(reports.sections.open()).toMatchObject([{ fromMm: 50, toMm: 75, fromTimeMs: 1000, toTimeMs: 3000 }]);
    // A reading that came late shows that it began before.
    tracker.noValue(45, 900, 76, 3100, 1);
    expect(reports.all).toHaveLength(1);
    expect(reports.sections.open()).toMatchObject([{ fromMm: 45, toMm: 76, fromTimeMs: 900, toTimeMs: 3100 }]);
    tracker.pass(100, 20);
    expect(tracker.idle).toBe(false);
    tracker.pass(86.1, 1);
    expect(tracker.idle).toBe(true);
    expect(reports.all).toMatchObject([{ fromMm: 45, toMm: 76, open: false }]);
    tracker.noValue(90, 4000, 100, 5000, 1);
    tracker.noValue(111, 6000, 120, 7000, 1);
    expect(reports.all).toMatchObject([{}, { toMm: 100, open: false }, { fromMm: 111, open: true }]);
    tracker.end();
    expect(reports.all.every(({ open }) => !open)).toBe(true);
  });
});

describe('a lost strand', () => {
  const lost = () => {
    const reports = new Reports();
    return { reports, tracker: new LostTracker(reports.sections) };
  };
  /** The next sample without strand, 1 mm further; the diameter fell below the limit at 99.5 mm. */
  const absent = (tracker: LostTracker, atMm: number, diameterMm = 0.1) =>
    tracker.absent(atMm * 10, atMm, diameterMm, 99.5, 995);

  it('is certain at the third sample, and lasts from where the diameter fell to where it rose', () => {
    const { reports, tracker } = lost();
    expect(tracker.idle).toBe(true);
    expect([absent(tracker, 100, 0.3), absent(tracker, 101, 0.2)]).toEqual([false, false]);
    expect([tracker.lost, tracker.idle, reports.all]).toEqual([false, false, []]);
    expect(absent(tracker, 102, 0.25)).toBe(true);
    expect(tracker.lost).toBe(true);
    expect(absent(tracker, 103, 0.25)).toBe(false);
    const start = { kind: 'strandLost', fromMm: 99.5, fromTimeMs: 995, certainty: 'sure', verdict: 'discard' };
    expect(reports.sections.open()).toMatchObject([
      { ...start, toMm: 103, toTimeMs: 1030, peakMm: 0.2, peakAtMm: 101 },
    ]);
    absent(tracker, 104, 0.15);
    tracker.stillLost(1070, 107);
    expect(reports.sections.open()).toMatchObject([{ toMm: 107, toTimeMs: 1070, peakMm: 0.15, peakAtMm: 104 }]);
    tracker.present(109, 108.5, 1085, 1);
    expect([tracker.lost, tracker.idle]).toEqual([false, false]);
    expect(reports.sections.open()).toMatchObject([{ toMm: 108.5, toTimeMs: 1085 }]);
    // The next readings change nothing in it, and end it a centimetre later.
    tracker.present(118.5, 118, 1180, 1);
    expect(reports.sections.open()).toHaveLength(1);
    tracker.present(118.6, 118.6, 1186, 1);
    expect(reports.all).toMatchObject([{ ...start, toMm: 108.5, open: false }]);
    expect(tracker.idle).toBe(true);
  });

  it('is one while the strand returns for less than a centimetre', () => {
    const { reports, tracker } = lost();
    for (const atMm of [100, 101, 102]) absent(tracker, atMm);
    tracker.present(103, 102.5, 1025, 1);
    for (const atMm of [104, 105, 106]) absent(tracker, atMm, 0.3);
    expect(reports.all).toMatchObject([{ open: true }]);
    // The least diameter of all of it was before.
    expect(reports.sections.open()).toMatchObject([{ fromMm: 99.5, toMm: 106, peakMm: 0.1, peakAtMm: 100 }]);
  });

  it('is not made of drop-outs between readings of strand', () => {
    const { reports, tracker } = lost();
    for (let atMm = 100; atMm < 120; atMm += 3) {
      absent(tracker, atMm);
      absent(tracker, atMm + 1);
      tracker.present(atMm + 2, atMm + 1.5, 0, 1);
    }
    tracker.stillLost(1300, 130);
    expect([tracker.lost, tracker.idle, reports.all]).toEqual([false, true, []]);
  });

  it('never ends before it starts, and ends with the run', () => {
    const { reports, tracker } = lost();
    for (const atMm of [100, 101, 102]) absent(tracker, atMm);
    tracker.present(101, 98, 1010, 1);
    expect(reports.sections.open()).toMatchObject([{ fromMm: 99.5, toMm: 99.5 }]);
    tracker.end();
    expect(reports.all).toMatchObject([{ open: false }]);
    expect([tracker.lost, tracker.idle]).toEqual([false, true]);
  });
});

describe('the sections of a run', () => {
  it('are numbered as they open, and listed while they are open', () => {
    const sections = new RunSections(7);
    const [blob, neck] = [newSection('blob', 10, 200), newSection('neck', 20, 400)];
    sections.start(blob);
    expect(sections.takeOrdinal()).toBe(8);
    sections.start(neck);
    expect(sections.open().map(({ ordinal, kind, open }) => [ordinal, kind, open])).toEqual([
      [7, 'blob', true],
      [9, 'neck', true],
    ]);
    sections.end(blob);
    expect(sections.open().map(({ ordinal }) => ordinal)).toEqual([9]);
  });

  it('are reported once for all changes since the last time, as they are now', () => {
    const sections = new RunSections(1);
    const none = sections.takeChanged();
    expect(none).toEqual([]);
    const blob = newSection('blob', 10, 200);
    expect(blob).toMatchObject({ toMm: 10, toTimeMs: 200, ordinal: 0 });
    sections.start(blob);
    blob.toMm = 12;
    blob.peakMm = 2;
    sections.markChanged(blob);
    expect(blob.reportedPeakMm).toBe(2);
    expect(sections.takeChanged()).toMatchObject([{ ordinal: 1, fromMm: 10, toMm: 12, peakMm: 2, open: true }]);
    expect(sections.takeChanged()).toBe(none);
    sections.end(blob);
    expect(sections.takeChanged()).toMatchObject([{ ordinal: 1, open: false }]);
    // Without numbers: what was not measured is nothing.
    sections.start(newSection('neck', 1, 1));
    expect(sections.takeChanged()).toMatchObject([{ peakMm: null, peakAtMm: null, volumeBeyondMm3: null }]);
  });

  it.each([
    ['blob', 'discard', 'doubtful'],
    ['neck', 'discard', 'doubtful'],
    ['strandLost', 'discard', 'doubtful'],
    ['offTolerance', 'doubtful', 'doubtful'],
    ['outOfRound', 'doubtful', 'doubtful'],
    ['unknown', 'doubtful', 'doubtful'],
  ] as const)('are discarded only where they jam, slip or are missing, and surely so: %s', (kind, sure, inDoubt) => {
    const verdictOf = (isSure: boolean) => {
      const sections = new RunSections(1);
      const section = newSection(kind, 0, 0);
      section.sure = isSure;
      sections.start(section);
      return sections.open()[0]!;
    };
    expect(verdictOf(true)).toMatchObject({ verdict: sure, certainty: 'sure' });
    expect(verdictOf(true)).not.toHaveProperty('doubt');
    expect(verdictOf(false)).toMatchObject({ verdict: inDoubt, certainty: 'inDoubt' });
    if (kind === 'unknown') expect(verdictOf(false)).not.toHaveProperty('doubt');
    else expect(verdictOf(false)).toMatchObject({ doubt: 'nearLimit' });
  });
});

/** On strand of 1.75 mm, 0.7 mm between readings, with a limit less its uncertainty at 1.9 mm: heights in hundredths of a mm. */
describe('readings beyond a limit', () => {
  interface Shape {
    readonly side?: 1 | -1;
    /** The reading before; NaN = none near. */
    readonly before?: number;
    readonly heights: readonly number[];
    readonly after?: number;
    readonly pitchMm?: number;
    /** From the last of them to the reading after. */
    readonly afterMm?: number;
    readonly sample?: Partial<StrandSample>;
  }
  const excursionOf = (shape: Shape) => {
    const { side = 1, before = 0, heights, after = 0, pitchMm = 0.7, afterMm = pitchMm, sample = {} } = shape;
    const at = (gaugeMm: number, height: number): StrandSample => ({
      timeMs: gaugeMm * 20,
      gaugeMm,
      diameterMm: 1.75 + (side * height) / 100,
      baselineMm: 1.75,
      pitchMm,
      outOfRoundMm: Number.NaN,
      sigmaMm: 0.001,
      isNoisy: false,
      averagedMm: 0,
      ...sample,
    });
    const excursion = new Excursion(side);
    excursion.start(at(0, heights[0]!), 1.75 + side * 0.15, -pitchMm, 1.75 + (side * before) / 100);
    for (const [i, height] of heights.slice(1).entries()) excursion.grow(at((i + 1) * pitchMm, height), 1);
    return { excursion, next: at((heights.length - 1) * pitchMm + afterMm, after) };
  };
  const isGlitch = (shape: Shape) => {
    const { excursion, next } = excursionOf(shape);
    return excursion.isGlitch(next);
  };
  const isWitnessed = (shape: Shape) => {
    const { excursion, next } = excursionOf(shape);
    return [excursion.isWitnessed, excursion.isWitnessedWith(next)];
  };

  it.each<[string, Shape, boolean]>([
    ['a lone one between even neighbours', { heights: [20] }, true],
    ['neighbours below 15 % of its height together', { heights: [20], before: 1, after: 1.9 }, true],
    ['neighbours above 15 %', { heights: [20], before: 1, after: 2.1 }, false],
    ['neighbours below 25 %, seen by one axis', { heights: [20], after: 4.9, sample: { outOfRoundMm: 0.19 } }, true],
    ['neighbours above 25 %, seen by one axis', { heights: [20], after: 5.1, sample: { outOfRoundMm: 0.19 } }, false],
    ['neighbours above 15 %, seen by both axes', { heights: [20], after: 4.9, sample: { outOfRoundMm: 0.17 } }, false],
    ['a low one, whose shape says nothing', { heights: [7.9] }, false],
    ['a little more', { heights: [8.1] }, true],
    ['nothing known before it', { heights: [20], before: Number.NaN }, false],
    ['a pitch at which a blob may be one reading', { heights: [20], pitchMm: 0.73 }, false],
    ['a pitch just below that', { heights: [20], pitchMm: 0.71 }, true],
    ['that pitch, averaged over more', { heights: [20], pitchMm: 0.73, sample: { averagedMm: 0.1 } }, true],
    ['the next reading 1.2 mm on', { heights: [20], afterMm: 1.2 }, true],
    ['the next reading 1.4 mm on', { heights: [20], afterMm: 1.4 }, false],
    ['the same, averaged over more', { heights: [20], afterMm: 1.4, sample: { averagedMm: 0.2 } }, true],
    ['a lone thin one at any pitch', { side: -1, heights: [20], pitchMm: 5 }, true],
    ['a thin one with a flank', { side: -1, heights: [20], pitchMm: 5, after: 4 }, false],
    ['two far too short for a blob', { heights: [20, 20], pitchMm: 0.3 }, true],
    ['two with a flank', { heights: [20, 20], pitchMm: 0.3, after: 1.7 }, false],
    ['two a millimetre long', { heights: [20, 20], pitchMm: 0.4 }, false],
    [
      'two a millimetre long, averaged over more',
      { heights: [20, 20], pitchMm: 0.4, sample: { averagedMm: 0.3 } },
      true,
    ],
    ['two where no length is known', { heights: [20, 20], pitchMm: 0 }, false],
    ['three', { heights: [20, 20, 20], pitchMm: 0.1 }, false],
  ])('are wrong or strand by their shape: %s', (_, shape, expected) => {
    expect(isGlitch(shape)).toBe(expected);
  });

  it.each<[string, Shape, readonly [boolean, boolean]]>([
    ['three of enough length', { heights: [20, 30, 20] }, [true, true]],
    ['three where no length is known', { heights: [20, 30, 20], pitchMm: 0 }, [true, true]],
    ['three shorter than any blob', { heights: [20, 30, 20], pitchMm: 0.2 }, [false, false]],
    ['three as short, with a flank', { heights: [20, 30, 20], pitchMm: 0.2, after: 7.6 }, [false, true]],
    ['two and a flank of a quarter before', { heights: [20, 30], before: 7.6 }, [false, true]],
    ['two and a flank of a quarter behind', { heights: [20, 30], after: 7.6 }, [false, true]],
    ['two and a flank of exactly a quarter before', { heights: [40, 50], before: 12.5 }, [false, true]],
    ['two and a flank of exactly a quarter behind', { heights: [40, 50], after: 12.5 }, [false, true]],
    ['two and less than a flank', { heights: [20, 30], after: 7.4 }, [false, false]],
    ['two and a flank that may be noise', { heights: [20, 30], after: 7.6, sample: { sigmaMm: 0.02 } }, [false, false]],
    ['one and two flanks', { heights: [20], before: 6, after: 6 }, [false, true]],
    ['one and one flank', { heights: [20], before: 6 }, [false, false]],
  ])('are seen by enough readings or not: %s', (_, shape, expected) => {
    expect(isWitnessed(shape)).toEqual(expected);
  });

  it('are noise up to five standard deviations of their sum, unless the strand is near the limit', () => {
    const beyond = (heights: readonly number[], sigmaMm: number, baselineMm = 1.75) =>
      excursionOf({ heights, sample: { baselineMm } }).excursion.isBeyondNoise(sigmaMm);
    expect([beyond([20], 0.039), beyond([20], 0.041)]).toEqual([true, false]);
    // Four of 0.2 mm are 0.8 mm, against 5 · σ · √4.
    expect([beyond([20, 20, 20, 20], 0.079), beyond([20, 20, 20, 20], 0.081)]).toEqual([true, false]);
    expect([beyond([20], 1, 1.849), beyond([20], 1, 1.851)]).toEqual([false, true]);
    // With flanks of 0.1 mm 0.3 mm against 5.25 · σ · √2, or 0.4 mm against 5.25 · σ · √3; an even neighbour takes nothing away.
    const withFlanks = (before: number, after: number, sigmaMm: number) => {
      const { excursion, next } = excursionOf({ heights: [20], before, after });
      return excursion.isBeyondNoise(sigmaMm, next.diameterMm);
    };
    expect([withFlanks(10, 0, 0.0403), withFlanks(10, 0, 0.0405)]).toEqual([true, false]);
    expect([withFlanks(0, 10, 0.0403), withFlanks(0, 10, 0.0405)]).toEqual([true, false]);
    expect([withFlanks(10, 10, 0.0438), withFlanks(10, 10, 0.0442)]).toEqual([true, false]);
    expect([withFlanks(-5, Number.NaN, 0.039), withFlanks(Number.NaN, 10, 0.0403)]).toEqual([true, true]);
  });

  it('are long enough to open a section from three on, or two over more than a millimetre', () => {
    const isLongEnough = (count: number, pitchMm: number) =>
      excursionOf({ heights: Array(count).fill(20), pitchMm }).excursion.isLongEnough;
    expect([isLongEnough(1, 5), isLongEnough(2, 0.45), isLongEnough(2, 0.55)]).toEqual([false, false, true]);
    expect(isLongEnough(3, 0.1)).toBe(true);
  });

  it('know their ends, their peak and the volume that was added', () => {
    const { excursion } = excursionOf({ heights: [20, 35, 30, 35] });
    expect(excursion).toMatchObject({ readings: 4, fromMm: 0, fromTimeMs: 0, peakAtMm: 0.7 });
    expect(excursion.toMm).toBeCloseTo(2.1, 9);
    expect(excursion.toTimeMs).toBeCloseTo(42, 9);
    expect(excursion.peakMm).toBeCloseTo(2.1, 9);
    expect([excursion.takeVolume(), excursion.takeVolume()]).toEqual([3, 0]);
  });
});
