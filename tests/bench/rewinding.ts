import { planCuts } from '../../server/strand/plan/cut-plan.ts';
import type { BenchTable } from './report.ts';
import { rewind } from './rewinding/rewind.ts';
import { drawSpool, EDGE_OFF_MM } from './rewinding/spool.ts';

const SPOOLS = 1000;
const SLIP_MM = 20;
const EXACT = { wheelShare: 0, lengthScaleShare: 0, slipMm: 0 };
const KEPT_TARGET = 0.9;

/** Wheels at half of the stated error and at the whole of it; and a spool that no tape measured, whose lengths are off, too. */
const CASES = [
  { wheelOff: 0.005, scaleShare: 0, fromSeed: 1 },
  { wheelOff: 0.01, scaleShare: 0, fromSeed: 1 },
  { wheelOff: 0.01, scaleShare: 0.02, fromSeed: 1 },
  { wheelOff: 0.005, scaleShare: 0, fromSeed: 500_001 },
  { wheelOff: 0.01, scaleShare: 0, fromSeed: 500_001 },
  { wheelOff: 0.01, scaleShare: 0.02, fromSeed: 500_001 },
] as const;
const CONFIRMED = [1, 0.8, 0] as const;

/** Spools cut by a user whose measuring wheel is off: how many coils called clean hold a blob, and how much strand is kept. */
export function benchRewinding(): BenchTable[] {
  const rows = CASES.flatMap((one) =>
    CONFIRMED.map((confirmed) => ({ ...one, confirmed, ...cutMany(one, confirmed) })),
  );
  return [
    {
      title: `rewinding: ${SPOOLS} spools of 180 to 350 m, cut step by step as the page says`,
      columns: [
        'seeds',
        'wheel off %',
        'lengths off %',
        'landmarks confirmed %',
        'coils called clean',
        'of them spoilt',
        'kept, % of perfect counting',
        'lost, m a spool',
      ],
      rows: rows.map((row) => [
        row.fromSeed === 1 ? 'tuning' : 'held out',
        100 * row.wheelOff,
        100 * row.scaleShare,
        100 * row.confirmed,
        row.clean,
        row.spoilt,
        Number((100 * row.keptShare).toFixed(1)),
        Number((row.lostMm / 1000).toFixed(1)),
      ]),
      target: `none spoilt; ≥ ${100 * KEPT_TARGET} % kept where every landmark is confirmed`,
      met: rows.every(
        ({ spoilt, confirmed, keptShare }) => spoilt === 0 && (confirmed < 1 || keptShare >= KEPT_TARGET),
      ),
    },
  ];
}

function cutMany(
  { wheelOff, scaleShare, fromSeed }: (typeof CASES)[number],
  confirmed: number,
): { clean: number; spoilt: number; keptShare: number; lostMm: number } {
  const stated = { wheelShare: 0.01, lengthScaleShare: scaleShare, slipMm: SLIP_MM, edgeMm: EDGE_OFF_MM };
  let [clean, spoilt, keptMm, perfectMm] = [0, 0, 0, 0];
  for (let seed = fromSeed; seed < fromSeed + SPOOLS; seed++) {
    const [wheelSign, scaleSign] = [seed % 2 === 0 ? 1 : -1, seed % 4 < 2 ? 1 : -1];
    const spool = drawSpool(seed, stated, scaleSign * scaleShare);
    const made = rewind(spool, { seed, wheelOff: wheelSign * wheelOff, slipMm: SLIP_MM, confirmed, carelessMm: 0 });
    perfectMm += planCuts(drawSpool(seed, EXACT, 0).request).totals.keptMm;
    clean += made.coilsCalledClean;
    spoilt += made.spoilt;
    keptMm += made.keptMm;
  }
  return { clean, spoilt, keptShare: keptMm / perfectMm, lostMm: (perfectMm - keptMm) / SPOOLS };
}
