import type { CountError, CutRequest, PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import { seeded } from '../../chance.ts';

/** A stretch that has to go, as it really is; mm from the true outer end. */
interface TrueStretch {
  readonly fromMm: number;
  readonly toMm: number;
  /** null = it cannot be seen passing. */
  readonly peakMm: number | null;
}

/** A spool as it really is, and as the record has it. */
export interface RewoundSpool {
  readonly woundMm: number;
  readonly bad: readonly TrueStretch[];
  readonly request: CutRequest;
}

/** Edges of sections in the record, at worst, by the bench of the detector. */
export const EDGE_OFF_MM = 20;

/** @param scaleOff by how much the record's lengths are too large, as a share */
export function drawSpool(seed: number, countError: CountError, scaleOff: number): RewoundSpool {
  const random = seeded(seed);
  const uniform = (from: number, to: number): number => from + (to - from) * random();
  const whole = (from: number, to: number): number => Math.floor(uniform(from, to + 1));
  const woundMm = Math.round(uniform(180_000, 350_000));
  const bad: TrueStretch[] = [];
  const count = whole(3, 16);
  for (let i = 0; i < count; i++) {
    const at = uniform(500, woundMm - 500);
    const blob = uniform(2, 30);
    bad.push({ fromMm: at, toMm: at + blob, peakMm: at + uniform(0, blob) });
    // The neck behind it was wound later, so it comes off before it.
    if (uniform(0, 1) < 0.3) {
      const neck = at - uniform(30, 300);
      bad.push({ fromMm: neck, toMm: neck + uniform(5, 25), peakMm: neck + 2 });
    }
    // A train of blobs from one lump of dirt.
    if (uniform(0, 1) < 0.1)
      for (let k = 1; k <= 3; k++) bad.push({ fromMm: at + 700 * k, toMm: at + 700 * k + 8, peakMm: at + 700 * k + 4 });
  }
  for (let i = whole(0, 2); i > 0; i--) {
    const at = uniform(500, woundMm - 20_000);
    bad.push({ fromMm: at, toMm: at + uniform(500, 8000), peakMm: null });
  }
  const onSpool = bad.filter(({ fromMm, toMm }) => fromMm > 0 && toMm < woundMm);
  const recorded = (trueMm: number): number => trueMm * (1 + scaleOff);
  const total = recorded(woundMm);
  const stretches = onSpool.map(({ fromMm, toMm, peakMm }): PlanStretch => {
    const edges = [fromMm, toMm].map((mm) => recorded(mm) + uniform(-1, 1) * EDGE_OFF_MM);
    // What is left out is low: the highest place is always in it.
    const within = [...edges, ...(peakMm === null ? [] : [recorded(peakMm)])];
    const [outer, inner] = [Math.max(0, Math.min(...within)), Math.min(total, Math.max(...within))];
    return {
      fromMm: total - inner,
      toMm: total - outer,
      fate: 'discard',
      kind: peakMm === null ? 'offTolerance' : 'blob',
      peakAtMm: peakMm === null ? null : total - recorded(peakMm),
    };
  });
  return {
    woundMm,
    bad: onSpool,
    request: {
      spoolName: `S${seed}`,
      woundMm: total,
      stretches,
      shortestCoilMm: 5000,
      objective: 'mostLength',
      doubtful: 'cut',
      unknown: 'cut',
      countError,
    },
  };
}
