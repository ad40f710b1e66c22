import { describe, expect, it } from 'vitest';
import { GaugeShift } from '../../server/strand/gauge-shift.ts';
import { normal, seeded } from '../chance.ts';

const PITCH_MM = 0.75;
const SIGMA_MM = 0.001;

interface Trace {
  readonly readings?: number;
  readonly pitchMm?: number;
  /** Of the gauge. */
  readonly sigmaMm?: number;
  readonly noiseMm?: number;
  /** Strand and gauge together, against 1.75 mm. */
  readonly more: (i: number) => number;
  readonly interruptAt?: number;
}

/** The shift after a trace, and at which readings it changed. */
function follow(trace: Trace) {
  const { readings = 700, pitchMm = PITCH_MM, sigmaMm = SIGMA_MM, noiseMm = sigmaMm, more, interruptAt } = trace;
  const gauss = normal(seeded(3));
  const shift = new GaugeShift();
  const changedAt: number[] = [];
  for (let i = 0; i < readings; i++) {
    if (i === interruptAt) shift.interrupt();
    if (shift.step(20 * i, pitchMm * i, 1.75 + noiseMm * gauss() + more(i), sigmaMm, pitchMm)) changedAt.push(i);
  }
  return { shift, shiftMm: shift.shiftMm, changedAt };
}

/** Jumps by so much at these readings. */
const jumps =
  (...all: readonly (readonly [at: number, mm: number])[]) =>
  (i: number) =>
    all.reduce((sum, [at, mm]) => sum + (i >= at ? mm : 0), 0);
const isFound = (more: Trace['more'], trace: Partial<Trace> = {}) => follow({ ...trace, more }).changedAt.length > 0;

describe('a shift of the gauge', () => {
  it.each([0.06, -0.06, 0.3])('by %f mm is known once it has lasted for 120 mm, with its place and size', (mm) => {
    const { shift, shiftMm, changedAt } = follow({ more: jumps([300, mm]) });
    // From the reading before it, 160 readings of 0.75 mm.
    expect(changedAt).toEqual([459]);
    expect(shiftMm).toBeCloseTo(mm, 3);
    expect([shift.sinceMm, shift.sinceTimeMs]).toEqual([299 * PITCH_MM, 300 * 20]);
  });

  it('matters from 0.035 mm on', () => {
    expect([0.033, 0.037, -0.033, -0.037].map((mm) => isFound(jumps([300, mm])))).toEqual([false, true, false, true]);
  });

  it('must be more than the noise of the gauge', () => {
    expect([0.06, 0.09].map((mm) => isFound(jumps([300, mm]), { sigmaMm: 0.02 }))).toEqual([false, true]);
    // Four standard deviations of it may be missing from the first reading.
    const behindFirst = (mm: number) =>
      isFound(jumps([300, 0.042], [301, mm - 0.042]), { sigmaMm: 0.01, noiseMm: 0.001 });
    expect([0.072, 0.09].map(behindFirst)).toEqual([true, false]);
  });

  it('is none if it has gone again after less than 120 mm, or most of it has', () => {
    const lasting = (readings: number, left = 0) => jumps([300, 0.06], [300 + readings, left - 0.06]);
    expect([100, 150].map((readings) => isFound(lasting(readings)))).toEqual([false, false]);
    expect([0.02, 0.048].map((left) => isFound(lasting(80, left)))).toEqual([false, true]);
    // Most of what its first sixteen readings show.
    const sinking = (left: number) => isFound(jumps([300, 0.2], [370, left - 0.2]));
    expect([0.1, 0.13].map(sinking)).toEqual([false, true]);
  });

  it('is none if it grows on, as the flank of something does', () => {
    expect(isFound(jumps([300, 0.06], [330, 0.06]))).toBe(false);
    expect(isFound(jumps([300, 0.06], [420, 0.06]))).toBe(false);
    expect(isFound(jumps([300, 0.06], [330, 0.01]))).toBe(true);
  });

  it('comes within one reading', () => {
    const over = (readings: number) => (i: number) => 0.06 * Math.min(1, Math.max(0, (i - 299) / readings));
    expect([1, 2, 4, 40].map((readings) => isFound(over(readings)))).toEqual([true, false, false, false]);
  });

  it('follows on 120 mm of even strand', () => {
    // The last reading before it must be more than 120 mm behind the first.
    expect([161, 162].map((at) => isFound(jumps([at, 0.06])))).toEqual([false, true]);
    const interrupted = (at: number) => isFound(jumps([300 + at, 0.06]), { interruptAt: 300 });
    expect([interrupted(0), interrupted(161), interrupted(162)]).toEqual([false, false, true]);
  });

  it('is none where the strand has just changed by a third of it, or scatters more than the gauge', () => {
    const ramp = (mm: number, from: number) => (i: number) =>
      mm * Math.min(1, Math.max(0, (i - from) / 80)) + jumps([400, 0.06])(i);
    expect([isFound(ramp(0.04, 304)), isFound(ramp(0.02, 304)), isFound(ramp(0.04, 100))]).toEqual([false, true, true]);
    expect([0.0015, 0.003].map((noiseMm) => isFound(jumps([300, 0.06]), { noiseMm }))).toEqual([true, false]);
  });

  it('is as high in its first readings as later', () => {
    expect([0.02, 0.04].map((mm) => isFound(jumps([300, 0.06], [304, mm])))).toEqual([true, false]);
  });

  it('may follow on lone wrong readings, but not closely on a blob', () => {
    const lone = (i: number) => (i % 60 === 0 ? 0.2 : 0);
    expect([isFound(lone), isFound((i) => lone(i) + jumps([330, 0.06])(i))]).toEqual([false, true]);
    // What follows on a wrong reading is strand, what follows on the flank of a blob is not.
    const tail = (mm: number) => jumps([200, 0.3], [201, mm - 0.3], [204, -mm], [300, 0.06]);
    expect([isFound(tail(0.05)), isFound(tail(0.12))]).toEqual([true, false]);
    // Noise of 0.02 mm moves the mean of those three readings by 0.044 mm at most, in 3.5 standard deviations.
    const noisyTail = (mm: number) =>
      isFound(jumps([200, 0.1], [201, mm - 0.1], [204, -mm], [300, 0.1]), { sigmaMm: 0.02, noiseMm: 0.0005 });
    expect([0.041, 0.047].map(noisyTail)).toEqual([true, false]);
    const blob = (from: number) => (i: number) => jumps([from, 0.3], [from + 4, -0.3], [600, 0.06])(i);
    expect([blob(200), blob(400)].map((more) => isFound(more, { readings: 900 }))).toEqual([true, false]);
    // Nor on one in the first strand.
    const early = (from: number) => jumps([from, 0.3], [from + 4, -0.3], [210, 0.06]);
    expect([isFound(early(30)), isFound(early(90))]).toEqual([true, false]);
  });

  it('cannot be told with readings more than 3 mm apart, nor where the strand does not move', () => {
    expect([3, 3.1].map((pitchMm) => isFound(jumps([300, 0.06]), { pitchMm }))).toEqual([true, false]);
    const standing = (at: number) => {
      const shift = new GaugeShift();
      // It stands still for readings 300 to 310, in which the gauge may have been cleaned.
      const placeMm = (i: number) => PITCH_MM * (i < 300 ? i : Math.max(300, i - 10));
      const gauss = normal(seeded(5));
      for (let i = 0; i < 700; i++)
        shift.step(20 * i, placeMm(i), 1.75 + SIGMA_MM * gauss() + jumps([at, 0.06])(i), SIGMA_MM, PITCH_MM);
      return shift.shiftMm;
    };
    expect([standing(305), standing(320)]).toEqual([0, expect.closeTo(0.06, 3)]);
  });

  it('is none where the gauge sends the same value ever after', () => {
    const gauss = normal(seeded(4));
    const frozen = (changes: number) => (i: number) =>
      i < 300 ? SIGMA_MM * gauss() : 0.06 + 0.0001 * Math.min(changes, i - 300);
    // The jump itself is a change.
    expect([0, 1, 2].map((changes) => isFound(frozen(changes), { noiseMm: 0 }))).toEqual([false, false, true]);
  });

  it('stands out from what the strand does itself', () => {
    /** The mean over 16 readings changes by as much from one to the next. */
    const wavy = (mm: number) => (i: number) => (Math.floor(i / 16) % 2 === 0 ? mm / 2 : -mm / 2);
    const inWaves = (mm: number, jumpMm: number) =>
      isFound((i) => wavy(mm)(i) + jumps([896, jumpMm])(i), { readings: 1400 });
    expect([inWaves(0.01, 0.04), inWaves(0.01, 0.06)]).toEqual([false, true]);
    // What it did before the last two hundred of them counts little.
    const since = (count: number) =>
      isFound((i) => (i < 16 * 2000 ? wavy(0.01)(i) : 0) + jumps([16 * (2000 + count), 0.04])(i), {
        readings: 16 * (2020 + count),
      });
    expect([since(20), since(600)]).toEqual([false, true]);
  });

  it('adds to the one before, until the trace is back', () => {
    const shiftMm = (...all: readonly (readonly [number, number])[]) =>
      follow({ readings: 1500, more: jumps([200, 0.06], ...all) }).shiftMm;
    expect(shiftMm([600, 0.06])).toBeCloseTo(0.12, 3);
    expect(shiftMm([600, 0.06], [1000, -0.12])).toBe(0);
    // Less than half of it is left: what was on the gauge is gone.
    expect(shiftMm([600, 0.06], [1000, -0.07])).toBe(0);
    expect(shiftMm([600, 0.06], [1000, -0.05])).toBeCloseTo(0.07, 3);
    expect(shiftMm([600, -0.12])).toBeCloseTo(-0.06, 3);
  });

  it('is forgotten when the line was stopped', () => {
    const { shift } = follow({ more: jumps([300, 0.06]) });
    shift.interrupt();
    expect(shift.shiftMm).toBeCloseTo(0.06, 3);
    shift.forget();
    expect(shift.shiftMm).toBe(0);
  });
});
