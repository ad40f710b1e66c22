import type { AlarmType } from '../../../server/alarm/alarm.ts';
import { AlarmEngine } from '../../../server/alarm/alarm-engine.ts';
import { strandConditions } from '../../../server/alarm/conditions.ts';
import type { MeasuredSection } from '../../../server/strand/section.ts';
import { plainContext, SectionDetector } from '../../../server/strand/section-detector.ts';
import { Random } from '../../../simulator/model/random.ts';
import { scan } from '../../strand/scan.ts';
import { USUAL_LIMITS } from '../../strand/usual-limits.ts';
import type { BenchRow } from '../report.ts';

/**
 * Whether what is called sure is true. The strand here is exact, and the gauge adds what gauges add: a calibration that is
 * off, noise, wrong readings, a range that ends, dust. It shares no code with the detector. Even seeds may be looked at;
 * the odd ones are held out.
 */
export function benchSure(): BenchRow[] {
  return ['tuning', 'held-out'].flatMap((half, i) => [
    ...atTheLimit(`${half} half`, i),
    ...beyondTheLimit(`${half} half`, i),
    ...NOISY.flatMap((noise) => missedByNoise(`${half} half`, i, noise)),
    ...wrongReadings(`${half} half`, i),
    ...noisyGauge(`${half} half`, i),
    ...GROWN.map((grown) => callsOfGrownNoise(`${half} half`, i, grown)),
    ...alarmsOffTolerance(`${half} half`, i),
    ...clippedRange(`${half} half`, i),
    ...dust(`${half} half`, i),
    ...soundGauges(`${half} half`, i),
  ]);
}

const SPOOLS = 200;
/** Readings before a blob, from which the noise is known. */
const LEAD = 800;
const RISK_PERCENT = 5;

interface Gauge {
  readonly pitchMm: number;
  /** Standard deviation of one reading. */
  readonly noiseMm: number;
  /** Readings that each one is the mean of; its noise is then that of the mean. */
  readonly smoothing: number;
  readonly uncertaintyMm: number;
}

const GAUGES: readonly Gauge[] = [0.1, 0.7, 1.4, 2.5].flatMap((pitchMm) =>
  [0.003, 0.01, 0.02].flatMap((noiseMm) =>
    [0.005, 0.02].flatMap((uncertaintyMm) =>
      [1, 4].map((smoothing) => ({ pitchMm, noiseMm, uncertaintyMm, smoothing })),
    ),
  ),
);

/** Readings of exact strand by a gauge; micrometres are printed. */
function read(trueMm: (atMm: number) => number, gauge: Gauge, random: Random, lengthMm: number): Float64Array {
  const { pitchMm, noiseMm, smoothing, uncertaintyMm } = gauge;
  const offMm = (uncertaintyMm / 2) * random.gaussian();
  const n = Math.floor(lengthMm / pitchMm);
  const phaseMm = pitchMm * random.unit();
  const recent = new Float64Array(smoothing).map(() => random.gaussian());
  const readings = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    recent[i % smoothing] = random.gaussian();
    const noise = (noiseMm * recent.reduce((sum, z) => sum + z, 0)) / Math.sqrt(smoothing);
    readings[i] = Math.round(1000 * (trueMm(i * pitchMm + phaseMm) + offMm + noise)) / 1000;
  }
  return readings;
}

function sectionsOf(diameterMm: Float64Array, { pitchMm, uncertaintyMm }: Gauge): readonly MeasuredSection[] {
  // 50 readings a second.
  const timeMs = diameterMm.map((_, i) => 20 * i);
  const gaugeMm = diameterMm.map((_, i) => pitchMm * i);
  return scan({ timeMs, gaugeMm, diameterMm }, { ...USUAL_LIMITS, gaugeUncertaintyMm: uncertaintyMm });
}

/** Even strand, in a slow wave. */
function evenStrand(random: Random): (atMm: number) => number {
  const waveMm = random.between(200, 1500);
  const phase = 2 * Math.PI * random.unit();
  return (atMm) => 1.75 + 0.01 * Math.sin((2 * Math.PI * atMm) / waveMm + phase);
}

/** The sections of even strand with a flat blob: `topMm` thick over `lengthMm`, with flanks of 2 mm. */
function blobsSeen(topMm: number, lengthMm: number, gauge: Gauge, random: Random): readonly MeasuredSection[] {
  return sectionsAround(topMm, lengthMm, gauge, random).filter(({ kind }) => kind === 'blob');
}

function sectionsAround(topMm: number, lengthMm: number, gauge: Gauge, random: Random): readonly MeasuredSection[] {
  const base = evenStrand(random);
  const middleMm = LEAD * gauge.pitchMm + lengthMm / 2;
  const strand = (atMm: number) => {
    const fromEdge = Math.abs(atMm - middleMm) - lengthMm / 2;
    return fromEdge <= 0 ? topMm : fromEdge >= 2 ? base(atMm) : topMm + ((base(atMm) - topMm) * fromEdge) / 2;
  };
  const readings = read(strand, gauge, random, middleMm + lengthMm / 2 + 30 + 50 * gauge.pitchMm);
  return sectionsOf(readings, gauge);
}

function atTheLimit(half: string, seedOffset: number): BenchRow[] {
  return [6, 30, 200].map((lengthMm) => {
    let [worst, calledSure, all] = [0, 0, 0];
    for (const [g, gauge] of GAUGES.entries()) {
      let sure = 0;
      for (let i = 0; i < SPOOLS / 2; i++) {
        const random = Random.stream(2 * i + seedOffset, `limit ${lengthMm} ${g}`);
        const blobs = blobsSeen(USUAL_LIMITS.hotendLimitMm, lengthMm, gauge, random);
        if (blobs.some(({ certainty }) => certainty === 'sure')) sure++;
      }
      worst = Math.max(worst, (200 * sure) / SPOOLS);
      calledSure += sure;
      all += SPOOLS / 2;
    }
    const value = (100 * calledSure) / all;
    return row(
      `${half}: blobs of ${lengthMm} mm exactly at the limit called sure, all gauges (worst gauge ${worst.toFixed(1)} %)`,
      value,
      '%',
      `≤ ${RISK_PERCENT}`,
      value <= RISK_PERCENT,
    );
  });
}

/** The price of not saying too much: how often what is beyond is called so. */
function beyondTheLimit(half: string, seedOffset: number): BenchRow[] {
  const gauges = GAUGES.filter(({ uncertaintyMm, smoothing }) => uncertaintyMm === 0.005 && smoothing === 1);
  return [0.03, 0.06, 0.12].flatMap((beyondMm) => {
    let [found, sure, all] = [0, 0, 0];
    for (const [g, gauge] of gauges.entries()) {
      for (let i = 0; i < SPOOLS / 2; i++) {
        const random = Random.stream(2 * i + seedOffset, `beyond ${beyondMm} ${g}`);
        const lengthMm = Math.max(2, 3.2 * gauge.pitchMm);
        const blobs = blobsSeen(USUAL_LIMITS.hotendLimitMm + beyondMm, lengthMm, gauge, random);
        all++;
        if (blobs.length > 0) found++;
        if (blobs.some(({ certainty }) => certainty === 'sure')) sure++;
      }
    }
    return [
      row(
        `${half}: shortest blobs of 3 readings, ${beyondMm} mm beyond the limit, missed`,
        all - found,
        'missed',
        'none',
        all === found,
      ),
      { what: `${half}: of them called sure`, value: (100 * sure) / all, unit: '%' },
    ];
  });
}

/** Noise of gauges that still count as measuring, mm. */
const NOISY = [
  { fromMm: 0.02, toMm: 0.03 },
  { fromMm: 0.03, toMm: 0.04 },
] as const;

/** Blobs 0.03 mm beyond the limit by how many whole readings fit on them: what `missed-blobs.ts` knows of noisy gauges. */
function missedByNoise(half: string, seedOffset: number, { fromMm, toMm }: (typeof NOISY)[number]): BenchRow[] {
  return [1, 2, 3].flatMap((readings) => {
    let [missed, all] = [0, 0];
    for (const pitchMm of [0.7, 2.5])
      for (let i = 0; i < 2 * SPOOLS; i++) {
        const random = Random.stream(2 * i + seedOffset, `missed ${fromMm} ${readings} ${pitchMm}`);
        const gauge: Gauge = { pitchMm, noiseMm: random.between(fromMm, toMm), smoothing: 1, uncertaintyMm: 0.005 };
        const lengthMm = pitchMm * (readings + random.unit());
        const found = sectionsAround(USUAL_LIMITS.hotendLimitMm + 0.03, lengthMm, gauge, random);
        // Not measured is not missed.
        if (found.some(({ kind }) => kind === 'unknown')) continue;
        all++;
        if (!found.some(({ kind }) => kind === 'blob')) missed++;
      }
    const what = `${half}: blobs 0.03 mm beyond the limit for ${readings} to ${readings + 1} readings, noise σ ${fromMm} to ${toMm} mm`;
    return [
      { what, value: all, unit: 'blobs' },
      { what: `${half}: of them missed`, value: missed, unit: 'missed' },
    ];
  });
}

/** One digit of a line without checksum is another: `1.753` becomes `1.953`. */
function digitFlipped(mm: number, random: Random): number {
  const digits = mm.toFixed(3).split('');
  const places = [0, 2, 3, 4];
  digits[places[random.index(places.length)]!] = String(random.index(10));
  return Number(digits.join(''));
}

const WRONG: Readonly<Record<string, (mm: number, random: Random) => number>> = {
  'garbage upwards': (mm, random) => mm + random.between(0.16, 1.75),
  'a flipped digit': digitFlipped,
};

function wrongReadings(half: string, seedOffset: number): BenchRow[] {
  return Object.entries(WRONG).flatMap(([name, spoil]) =>
    [1, 2].map((inRow) => {
      let [sure, marked, all] = [0, 0, 0];
      for (const [g, pitchMm] of [0.1, 0.3, 0.7, 0.8, 1.4, 2.5, 5].entries()) {
        const gauge: Gauge = { pitchMm, noiseMm: 0.008, smoothing: 1, uncertaintyMm: 0.005 };
        for (let i = 0; i < SPOOLS / 20; i++) {
          const random = Random.stream(2 * i + seedOffset, `wrong ${name} ${inRow} ${g}`);
          const readings = read(evenStrand(random), gauge, random, 8000 * pitchMm);
          const at: number[] = [];
          for (let k = LEAD; k < readings.length - 50; k += 200) {
            at.push(k);
            for (let j = 0; j < inRow; j++) readings[k + j] = spoil(readings[k + j]!, random);
          }
          const found = sectionsOf(readings, gauge);
          all += at.length;
          sure += found.filter(({ verdict }) => verdict === 'discard').length;
          marked += found.length;
        }
      }
      const share = ((100 * marked) / all).toFixed(0);
      const what = `${half}: ${name}, ${inRow} in a row, called sure (${share} % marked)`;
      return row(what, (100 * sure) / all, '%', '0', sure === 0);
    }),
  );
}

function noisyGauge(half: string, seedOffset: number): BenchRow[] {
  let [others, reported, km] = [0, 0, 0];
  const gauge: Gauge = { pitchMm: 0.7, noiseMm: 0.06, smoothing: 1, uncertaintyMm: 0.005 };
  for (let i = 0; i < 20; i++) {
    const random = Random.stream(2 * i + seedOffset, 'noisy');
    const found = sectionsOf(read(evenStrand(random), gauge, random, 100_000), gauge);
    reported += found.some(({ doubt }) => doubt === 'gaugeNoisy') ? 1 : 0;
    others += found.filter(({ kind }) => kind !== 'unknown').length;
    km += 0.1;
  }
  const what = `${half}: spools of 100 m by a gauge with σ = 0.06 mm reported as noisy`;
  return [
    row(what, 5 * reported, '%', '100', reported === 20),
    row(`${half}: other sections on them`, others / km, '/km', '≤ 5', others / km <= 5),
  ];
}

const row = (what: string, value: number, unit: string, target: string, met: boolean): BenchRow => ({
  what,
  value,
  unit,
  target,
  met,
});

/** Strand with rounded blobs up to 0.6 mm high, each 20 m. */
function strandWithBlobs(random: Random, heightMm: number): (atMm: number) => number {
  const base = evenStrand(random);
  const lengthMm = random.between(5, 25);
  return (atMm) => {
    const from = Math.abs((atMm % 20_000) - 10_000) / (lengthMm / 2);
    return base(atMm) + (from < 1 ? heightMm * (1 - from * from) : 0);
  };
}

const SPOOLS_OF_RANGE = 15;

function clippedRange(half: string, seedOffset: number): BenchRow[] {
  return [1.82, 1.88, 1.9].map((endMm) => {
    let [found, all] = [0, 0];
    for (const noiseMm of [0.004, 0.01])
      for (let i = 0; i < SPOOLS_OF_RANGE; i++) {
        const random = Random.stream(2 * i + seedOffset, `range ${endMm} ${noiseMm}`);
        const gauge: Gauge = { pitchMm: 0.7, noiseMm, smoothing: 1, uncertaintyMm: 0.005 };
        const readings = read(strandWithBlobs(random, random.between(0.2, 0.6)), gauge, random, 100_000);
        all++;
        if (
          sectionsOf(
            readings.map((mm) => Math.min(mm, endMm)),
            gauge,
          ).some(({ doubt }) => doubt === 'gaugeBlind')
        )
          found++;
      }
    const value = (100 * found) / all;
    return row(
      `${half}: gauges whose range ends at ${endMm} mm reported as blind, 5 blobs in 100 m`,
      value,
      '%',
      '≥ 95',
      value >= 95,
    );
  });
}

function dust(half: string, seedOffset: number): BenchRow[] {
  let [found, discards, all] = [0, 0, 0];
  for (const pitchMm of [0.3, 0.7, 1.4])
    for (const noiseMm of [0.003, 0.01])
      for (let i = 0; i < SPOOLS_OF_RANGE; i++) {
        const random = Random.stream(2 * i + seedOffset, `dust ${pitchMm} ${noiseMm}`);
        const gauge: Gauge = { pitchMm, noiseMm, smoothing: 1, uncertaintyMm: 0.005 };
        // Thick but sound strand: with the dust it shows beyond the limit.
        const base = evenStrand(random);
        const readings = read((atMm) => base(atMm) + 0.1, gauge, random, 15_000);
        const from = Math.floor(readings.length / 2);
        const sections = sectionsOf(
          readings.map((mm, k) => (k < from ? mm : mm + 0.06)),
          gauge,
        );
        all++;
        if (sections.some(({ kind, doubt }) => kind === 'unknown' && doubt === 'gaugeShifted')) found++;
        discards += sections.filter(({ verdict }) => verdict === 'discard').length;
      }
  const value = (100 * found) / all;
  return [
    row(`${half}: dust of 0.06 mm reported as a shift of the gauge`, value, '%', '≥ 95', value >= 95),
    row(`${half}: sound strand discarded behind it`, discards, 'sections', 'none', discards === 0),
  ];
}

/** Gauges of all kinds that are not to blame. */
function soundGauges(half: string, seedOffset: number): BenchRow[] {
  let [blamed, km] = [0, 0];
  for (const [g, stepMm] of [0.0001, 0.001, 0.005, 0.01, 0.0254].entries())
    for (const noiseMm of [0.001, 0.004, 0.012, 0.03])
      for (let i = 0; i < 5; i++) {
        const random = Random.stream(2 * i + seedOffset, `sound ${g} ${noiseMm}`);
        const gauge: Gauge = { pitchMm: 0.7, noiseMm, smoothing: 1 + random.index(4), uncertaintyMm: 0.005 };
        const wander = wanderOf(random, random.between(300, 3000), 0.01);
        const strand = strandWithBlobs(random, random.between(0, 0.5));
        const readings = read((atMm) => strand(atMm) + wander(atMm), gauge, random, 60_000);
        const sent = readings.map((mm) => Math.round(mm / stepMm) * stepMm);
        blamed += sectionsOf(sent, gauge).filter(({ kind }) => kind === 'unknown').length;
        km += 0.06;
      }
  const value = blamed / km;
  return [row(`${half}: sound gauges of any resolution and noise blamed`, value, '/km', '≤ 0.1', value <= 0.1)];
}

/** Alarms of which someone is notified, on strand within tolerance whose mean is this far off, by gauges of different uncertainty. */
function alarmsOffTolerance(half: string, seedOffset: number): BenchRow[] {
  return [0.005, 0.02, 0.05].map((uncertaintyMm) => {
    let [calls, minutes] = [0, 0];
    let most = 0;
    for (const [m, meanMm] of [1.75, 1.77, 1.79, 1.8, 1.82].entries()) {
      for (let i = 0; i < 4; i++) {
        const random = Random.stream(2 * i + seedOffset, `tolerance ${m}`);
        const gauge: Gauge = { pitchMm: 0.7, noiseMm: 0.01, smoothing: 1, uncertaintyMm };
        const wander = wanderOf(random, 1500, 0.015);
        const readings = read((atMm) => meanMm + wander(atMm), gauge, random, 120_000);
        const called = callsOf(readings, gauge);
        calls += called;
        minutes += readings.length / 50 / 60;
        most = Math.max(most, (10 * called) / (readings.length / 50 / 60));
      }
    }
    return row(
      `${half}: alarms out of tolerance, U = ${uncertaintyMm} mm, strand near and at the tolerance (worst spool ${most.toFixed(2)})`,
      (10 * calls) / minutes,
      'per 10 min',
      '≤ 1',
      most <= 1,
    );
  });
}

/** A slow wander along the strand with this standard deviation. */
function wanderOf(random: Random, correlationMm: number, sigmaMm: number): (atMm: number) => number {
  const keep = Math.exp(-1 / correlationMm);
  let [value, lastMm] = [random.gaussian(), 0];
  return (atMm) => {
    const steps = atMm - lastMm;
    const kept = keep ** steps;
    value = kept * value + Math.sqrt(1 - kept * kept) * random.gaussian();
    lastMm = atMm;
    return sigmaMm * value;
  };
}

/** Noise that a gauge grows to, and how it reads: with 35 mm/s at 50 readings a second, and with 20 mm/s at 5. */
const GROWN = [0.06, 0.1].flatMap((noiseMm) => [
  { noiseMm, pitchMm: 0.7, everyMs: 20 },
  { noiseMm, pitchMm: 4, everyMs: 200 },
]);

/** Alarms while the noise of a gauge grows from 0.008 mm and afterwards, ten minutes for each spool. */
function callsOfGrownNoise(half: string, seedOffset: number, { noiseMm, pitchMm, everyMs }: (typeof GROWN)[number]) {
  const calls = Array.from({ length: 40 }, (_, i) => {
    const random = Random.stream(2 * i + seedOffset, 'grown noise');
    const gauge: Gauge = { pitchMm, noiseMm: 0.008, smoothing: 1, uncertaintyMm: 0.005 };
    const quiet = read(evenStrand(random), gauge, random, (600_000 / everyMs) * pitchMm);
    const from = quiet.length / 10;
    const noisy = (mm: number) => Math.round(1000 * (mm + noiseMm * random.gaussian())) / 1000;
    const readings = quiet.map((mm, k) => (k < from ? mm : noisy(mm)));
    return callsOf(readings, gauge, ['blob', 'blobInDoubt', 'neck', 'offTolerance'], everyMs);
  });
  const mean = calls.reduce((sum, n) => sum + n, 0) / calls.length;
  return row(
    `${half}: alarms of a gauge whose noise grows to σ = ${noiseMm} mm, ${pitchMm} mm apart (worst spool ${Math.max(...calls)})`,
    mean,
    'per 10 min',
    '≤ 1',
    mean <= 1,
  );
}

function callsOf(
  diameterMm: Float64Array,
  { pitchMm, uncertaintyMm }: Gauge,
  types: readonly AlarmType[] = ['offTolerance'],
  everyMs = 20,
): number {
  const limits = { ...USUAL_LIMITS, gaugeUncertaintyMm: uncertaintyMm };
  const detector = new SectionDetector(limits);
  const engine = new AlarmEngine({ standing: [], lastId: 0 });
  engine.setStage('winding');
  const context = plainContext();
  let calls = 0;
  diameterMm.forEach((mm, i) => {
    const timeMs = everyMs * i;
    const changed = detector.step(timeMs, i * pitchMm, mm, context);
    if (changed.length === 0 && (i * everyMs) % 500 !== 0) return;
    const open = detector.open();
    const placed = [...open, ...changed.filter((section) => !section.open)].map((section) => ({
      section,
      runId: 1,
      spoolMm: section.fromMm,
      spoolOrdinal: 1,
      reachesWinderInS: null,
    }));
    const changes = [
      ...strandConditions(placed, limits).flatMap((condition) => engine.observe(condition, timeMs)),
      ...engine.tick(timeMs),
    ];
    calls += changes.filter(
      ({ alarm, step }) => types.includes(alarm.type) && (step === 'raised' || step === 'again'),
    ).length;
  });
  return calls;
}
