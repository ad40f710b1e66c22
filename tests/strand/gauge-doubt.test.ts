import { describe, expect, it } from 'vitest';
import { normal, seeded } from '../chance.ts';
import { casesOf, IS_LONG_CHECK, tries } from '../long-check.ts';
import { scan } from './scan.ts';
import { USUAL_LIMITS } from './usual-limits.ts';

const PITCH_MM = 0.7;

interface Made {
  readonly seed?: number;
  readonly readings?: number;
  readonly noiseMm?: number;
  /** The strand, against its usual diameter. */
  readonly more?: (atMm: number, i: number) => number;
  /** What the gauge makes of it. */
  readonly gauge?: (mm: number, atMm: number) => number;
}

/** Strand at 35 mm/s and 50 readings a second, in a slow wave; micrometres are sent. */
function made({ seed = 1, readings = 20_000, noiseMm = 0.008, more = () => 0, gauge = (mm) => mm }: Made) {
  const gauss = normal(seeded(seed));
  const index = Array.from({ length: readings }, (_, i) => i);
  const diameterMm = index.map((i) => {
    const atMm = i * PITCH_MM;
    const mm = 1.75 + 0.01 * Math.sin(atMm / 150) + more(atMm, i) + noiseMm * gauss();
    return Math.round(1000 * gauge(mm, atMm)) / 1000;
  });
  return { timeMs: index.map((i) => 20 * i), gaugeMm: index.map((i) => i * PITCH_MM), diameterMm };
}

const sections = (strand: Made) => scan(made(strand));
/** Rounded blobs of 20 mm, each metre. */
const blobs = (heightMm: number) => (atMm: number) => {
  const from = Math.abs((atMm % 1000) - 500);
  return atMm > 1500 && from < 10 ? heightMm * (1 - (from / 10) ** 2) : 0;
};

describe('a gauge whose range ends below the hotend limit', () => {
  it.each([1.78, 1.84, 1.88, 1.9])('is found blind at %f mm, from where it first reached its end', (endMm) => {
    const found = sections({ more: blobs(0.4), gauge: (mm) => Math.min(mm, endMm) });
    const blind = found.filter(({ doubt }) => doubt === 'gaugeBlind');
    expect(blind).toMatchObject([{ kind: 'unknown', verdict: 'doubtful' }]);
    expect(blind[0]!.fromMm).toBeLessThan(2520);
    expect(blind[0]!.toMm).toBeGreaterThan(13_990);
    expect(found.filter(({ verdict }) => verdict === 'discard')).toEqual([]);
  });

  it('makes a single blob a doubtful one already', () => {
    const one = (atMm: number) => (atMm > 2000 && atMm < 3000 ? blobs(0.4)(atMm) : 0);
    const found = sections({ more: one, gauge: (mm) => Math.min(mm, 1.88) });
    expect(found).toMatchObject([{ kind: 'blob', verdict: 'doubtful' }]);
  });

  it('sees again after a reading above that', () => {
    const found = sections({
      more: blobs(0.4),
      gauge: (mm, atMm) => (atMm < 7000 ? Math.min(mm, 1.88) : mm),
    });
    const [blind] = found.filter(({ doubt }) => doubt === 'gaugeBlind');
    expect(blind!.toMm).toBeLessThan(7600);
    expect(found.filter(({ verdict }) => verdict === 'discard').length).toBeGreaterThan(5);
  });

  it('is none where it ends above the limit, nor where nothing is cut off', () => {
    for (const endMm of [2.1, 99]) {
      const found = sections({ more: blobs(0.4), gauge: (mm) => Math.min(mm, endMm) });
      expect(found.filter(({ kind }) => kind === 'unknown')).toEqual([]);
    }
  });

  it.each(casesOf([0.001, 0.005, 0.01, 0.02], 1))(
    'is never made up by a resolution of %f mm on good strand',
    (stepMm) => {
      for (let seed = 1; seed <= tries(6, 1 / 3); seed++)
        for (const noiseMm of [0.001, 0.004, 0.012, 0.02]) {
          const strand = { seed, noiseMm, readings: 60_000, gauge: (mm: number) => Math.round(mm / stepMm) * stepMm };
          expect(sections(strand).filter(({ kind }) => kind === 'unknown')).toEqual([]);
        }
    },
  );
});

describe('a gauge that is too noisy to tell a blob', () => {
  it('is reported as noisy, not as many sections', () => {
    const found = sections({ noiseMm: 0.06, readings: 60_000 });
    expect(found[0]).toMatchObject({ kind: 'unknown', doubt: 'gaugeNoisy' });
    expect(found[0]!.toMm - found[0]!.fromMm).toBeGreaterThan(41_000);
    expect(found.length).toBeLessThan(4);
    expect(found.filter(({ verdict }) => verdict === 'discard')).toEqual([]);
  });

  it('still shows blobs that are sure', () => {
    const found = sections({ noiseMm: 0.06, more: blobs(0.6) }).filter(({ kind }) => kind !== 'unknown');
    expect(found.length).toBeGreaterThan(10);
    expect(found.every(({ kind, certainty }) => kind === 'blob' && certainty === 'sure')).toBe(true);
  });

  it('is reported soon after it has become so, from where it has', () => {
    for (let seed = 1; seed <= tries(6, 1 / 2); seed++) {
      const gauss = normal(seeded(seed + 100));
      const found = sections({ seed, readings: 30_000, more: (atMm) => (atMm > 14_000 ? 0.06 * gauss() : 0) });
      const noisy = found.find(({ doubt }) => doubt === 'gaugeNoisy');
      expect(Math.abs(noisy!.fromMm - 14_000)).toBeLessThan(60 * PITCH_MM);
      expect(found.length).toBeLessThan(4);
    }
  });

  it('is none with the noise of rough strand, nor by chance in its first readings', () => {
    expect(sections({ noiseMm: 0.03, readings: 60_000 }).filter(({ kind }) => kind === 'unknown')).toEqual([]);
    for (let seed = 2; seed < 2 + tries(150, 1 / 3); seed++)
      expect(sections({ seed, noiseMm: 0.03, readings: 300 }).filter(({ kind }) => kind === 'unknown')).toEqual([]);
  });
});

describe('a jump of the whole trace within one reading', () => {
  const FROM_MM = 5000;
  const dust = (jumpMm: number, toMm = Number.POSITIVE_INFINITY) => ({
    gauge: (mm: number, atMm: number) => (atMm >= FROM_MM && atMm < toMm ? mm + jumpMm : mm),
  });
  const shifted = (strand: Made) =>
    sections(strand).filter(({ doubt, kind }) => kind === 'unknown' && doubt === 'gaugeShifted');

  it.each([0.06, 0.1, -0.06])('by %f mm is a shift of the gauge: nothing is known well from there', (jumpMm) => {
    const [section, ...others] = shifted(dust(jumpMm));
    expect(others).toEqual([]);
    expect(section).toMatchObject({ verdict: 'doubtful', doubt: 'gaugeShifted' });
    expect(Math.abs(section!.fromMm - FROM_MM)).toBeLessThan(2 * PITCH_MM);
  });

  it.skipIf(!IS_LONG_CHECK)('is found in strand that wanders over a short length, and by a noisier gauge', () => {
    const wave = (atMm: number) => 0.01 * Math.sin((2 * Math.PI * atMm) / 205);
    for (let seed = 1; seed <= 12; seed++) {
      expect(shifted({ seed, noiseMm: 0.003, more: wave, ...dust(0.06) })).toHaveLength(1);
      expect(shifted({ seed, noiseMm: 0.01, ...dust(0.06) })).toHaveLength(1);
      expect(shifted({ seed, noiseMm: 0.003, more: wave })).toEqual([]);
    }
  });

  it('is found shortly behind lone readings off the strand', () => {
    const from = Math.floor(FROM_MM / PITCH_MM);
    // By four standard deviations, and those that follow by half a one.
    const outliers = (_: number, i: number) => {
      const behind = [from - 140, from - 90, from - 40].map((at) => i - at).find((by) => by >= 0 && by < 4);
      return behind === undefined ? 0 : behind === 0 ? 0.04 : 0.005;
    };
    for (let seed = 1; seed <= 4; seed++)
      expect(shifted({ seed, noiseMm: 0.01, readings: 8000, more: outliers, ...dust(0.06) })).toHaveLength(1);
  });

  it('is found in strand that then wanders back by a third of it', () => {
    // Within 100 mm, by no more than it does elsewhere.
    const wander = (atMm: number) => 0.012 * Math.cos((2 * Math.PI * (atMm - FROM_MM)) / 205);
    expect(shifted({ noiseMm: 0.004, readings: 8000, more: wander, ...dust(0.06) })).toHaveLength(1);
  });

  it('ends where the trace jumps back', () => {
    const [section] = shifted(dust(0.06, 9000));
    expect(Math.abs(section!.toMm - 9000)).toBeLessThan(150);
  });

  it('makes no sound strand a sure discard, but does not hide a thick blob', () => {
    // 1.85 mm shown as 1.93.
    const thick = { more: (atMm: number) => 0.1 * Math.min(1, atMm / 2000), ...dust(0.08) };
    expect(sections(thick).filter(({ verdict }) => verdict === 'discard')).toEqual([]);
    const blob = { more: (atMm: number) => (Math.abs(atMm - 8000) < 8 ? 0.5 : 0), ...dust(0.08) };
    expect(sections(blob).filter(({ verdict }) => verdict === 'discard')).toMatchObject([{ kind: 'blob' }]);
  });

  it('takes back what was called sure before it was recognised, with the reason', () => {
    // Ridges of 1.87 mm, shown as 1.94, each over before the jump has lasted for long enough.
    const ridge = (atMm: number, places: readonly number[]) => places.some((mm) => Math.abs(atMm - mm) < 4);
    const thick = (places: readonly number[]) => ({
      noiseMm: 0.004,
      more: (atMm: number) => 0.03 * Math.min(1, atMm / 2000) + (ridge(atMm, places) ? 0.08 : 0),
    });
    const blobs = (strand: Made) => sections(strand).filter(({ kind }) => kind === 'blob');
    const places = [5020, 5050, 5080];
    const doubtful = blobs({ ...thick(places), ...dust(0.07) });
    expect(doubtful.length).toBeGreaterThan(1);
    for (const blob of doubtful)
      expect(blob).toMatchObject({ verdict: 'doubtful', doubt: 'gaugeShifted', open: false });
    // A real one stays sure, and so does one from before the jump.
    const real = { more: (atMm: number) => (Math.abs(atMm - 5050) < 4 ? 0.5 : 0), ...dust(0.07) };
    expect(blobs(real)).toMatchObject([{ verdict: 'discard' }]);
    const before = { more: (atMm: number) => (Math.abs(atMm - 4700) < 4 ? 0.21 : 0), ...dust(0.07) };
    expect(blobs(before)).toMatchObject([{ verdict: 'discard' }]);
  });

  it('is no shift where the strand changes over some length, as it does when the puller jumps', () => {
    // Drawn down over 60 mm between die and puller.
    const puller = (atMm: number) => 0.07 * (1 - Math.exp(-Math.max(0, atMm - FROM_MM) / 20));
    expect(shifted({ more: puller })).toEqual([]);
  });

  it('is no shift where it is a blob, however long, or a gauge that froze', () => {
    for (const lengthMm of [3, 10, 30, 60])
      expect(shifted({ more: (atMm) => (atMm > 5000 && atMm < 5000 + lengthMm ? 0.2 : 0) })).toEqual([]);
    expect(shifted({ gauge: (mm, atMm) => (atMm > 5000 && atMm < 6000 ? 1.81 : mm) })).toEqual([]);
  });
});

describe('two axes that disagree for long', () => {
  it('make a blob doubtful that only one of them sees', () => {
    const strand = made({ readings: 20_000 });
    const outOfRoundMm = strand.gaugeMm.map((mm) => (mm > 3000 ? 0.36 : 0.01));
    const found = scan({ ...strand, outOfRoundMm });
    const blob = found.filter(({ kind }) => kind === 'blob');
    expect(blob).toMatchObject([{ verdict: 'doubtful', doubt: 'axesDisagree' }]);
    expect(found.some(({ kind }) => kind === 'outOfRound')).toBe(true);
  });

  it.each([0.2, 0.4, -0.4])('make nothing sure if one of them drifts off by %f mm and stays there', (offMm) => {
    const strand = made({ readings: 20_000 });
    const off = strand.gaugeMm.map((mm) => offMm * Math.min(1, Math.max(0, (mm - 2000) / 3000)));
    const diameterMm = strand.diameterMm.map((mm, i) => mm + off[i]! / 2);
    const outOfRoundMm = off.map((mm) => 0.01 + Math.abs(mm));
    const found = scan({ ...strand, diameterMm, outOfRoundMm });
    expect(found.filter(({ verdict }) => verdict === 'discard')).toEqual([]);
    const byAnAxis = found.filter(({ kind }) => kind !== 'outOfRound');
    expect(byAnAxis.length).toBeGreaterThan(0);
    for (const section of byAnAxis) expect(section.certainty).toBe('inDoubt');
  });

  it('hide no blob that is thicker than their difference', () => {
    const strand = made({ more: (atMm) => (Math.abs(atMm - 8000) < 8 ? 0.5 : 0) });
    const outOfRoundMm = strand.gaugeMm.map(() => 0.15);
    expect(scan({ ...strand, outOfRoundMm }).filter(({ verdict }) => verdict === 'discard')).toMatchObject([
      { kind: 'blob' },
    ]);
  });
});

it('puts nothing in doubt on good strand', () => {
  for (let seed = 1; seed <= 8; seed++) expect(scan(made({ seed, readings: 60_000 }), USUAL_LIMITS)).toEqual([]);
});
