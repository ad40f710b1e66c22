import { createSimulation, type Scenario, type TruthEvent } from '../../../simulator/index.ts';
import { STANDARD_PLANT } from '../../../simulator/model/plant.ts';
import { BLOB, CONTAMINANT, NECK } from '../../../simulator/scenarios/defect-plans.ts';
import { warmStart } from '../../../simulator/scenarios/stages.ts';

/** Readings of the full simulator, with its own truth. */
export interface SimulatedRun {
  readonly timeMs: Float64Array;
  readonly gaugeMm: Float64Array;
  readonly diameterMm: Float64Array;
  readonly pitchMm: number;
  /** What was beyond the limits in truth. */
  readonly truth: readonly TruthEvent[];
  /** Every lump from foot to foot, beyond a limit or not. */
  readonly defects: readonly TruthEvent[];
}

/** The loop has settled by then. */
const SETTLED_S = 75;
/** The usual line's; screw and puller are scaled from it together. */
const USUAL_MM_PER_S = 35;

/** @param speedMmPerS from 20 on: slower, the strand takes so long from die to gauge that the simulator's loop swings */
export function simulateRun(
  seed: number,
  speedMmPerS: number,
  rateHz: number,
  lengthMm: number,
  defects: boolean,
): SimulatedRun {
  const scale = speedMmPerS / USUAL_MM_PER_S;
  const scenario: Scenario = {
    name: 'bench',
    title: 'Bench',
    description: 'A good run at a chosen speed, with blobs, necks and hard grains.',
    durationS: null,
    startC: [173.5, 189, 194.2],
    // The same turns a minute carry more or less melt.
    plant: { flowPerTurnMm3: STANDARD_PLANT.flowPerTurnMm3 * scale },
    script: warmStart.map((step) => (step.do === 'puller' ? { ...step, speedMmPerS: step.speedMmPerS * scale } : step)),
    recurring: defects
      ? [BLOB, CONTAMINANT, NECK].map((plan, i) => ({
          firstS: SETTLED_S + 5 * i,
          gapS: [300 / speedMmPerS + 3, 2000 / speedMmPerS + 20],
          steps: [{ afterS: 0, do: 'defect', plan }],
        }))
      : [],
  };
  const simulation = createSimulation({ scenario, seed, rateHz, fields: ['d'] });
  simulation.advanceTo(SETTLED_S);
  const { line } = simulation;
  const startMm = line.gaugeMm;
  const capacity = Math.ceil((1.1 * lengthMm * rateHz) / speedMmPerS);
  const timeMs = new Float64Array(capacity);
  const gaugeMm = new Float64Array(capacity);
  const diameterMm = new Float64Array(capacity);
  // The roller counts the length, as it does for the service.
  const rollerZeroMm = line.puller.rollerMm - line.gaugeMm;
  let n = 0;
  while (line.gaugeMm - startMm < lengthMm && n < capacity) {
    simulation.step();
    timeMs[n] = line.timeS * 1000;
    gaugeMm[n] = line.puller.rollerMm - rollerZeroMm;
    diameterMm[n] = Math.round(line.gauge.meanMm * 1000) / 1000;
    n++;
  }
  const endMm = line.gaugeMm;
  return {
    timeMs: timeMs.subarray(0, n),
    gaugeMm: gaugeMm.subarray(0, n),
    diameterMm: diameterMm.subarray(0, n),
    pitchMm: speedMmPerS / rateHz,
    truth: joined(simulation.truth()).filter(
      ({ fromGaugeMm, toGaugeMm }) => fromGaugeMm > startMm + 100 && toGaugeMm !== null && toGaugeMm < endMm - 100,
    ),
    defects: simulation.truth().filter(({ kind }) => kind === 'blob' || kind === 'neck' || kind === 'contaminant'),
  };
}

/** Stretches beyond the limits; those closer than a centimetre are one, as they are for whoever cuts them out. */
function joined(events: readonly TruthEvent[]): TruthEvent[] {
  const all: TruthEvent[] = [];
  for (const kind of ['oversize', 'undersize'] as const) {
    for (const event of events.filter((one) => one.kind === kind)) {
      const last = all.at(-1);
      if (last?.kind === kind && event.fromGaugeMm - (last.toGaugeMm ?? event.fromGaugeMm) < 10) {
        const worst = kind === 'oversize' ? Math.max : Math.min;
        all[all.length - 1] = { ...last, toGaugeMm: event.toGaugeMm, peakMm: worst(last.peakMm!, event.peakMm!) };
      } else all.push(event);
    }
  }
  return all;
}

/** How far a true stretch was beyond its limit, mm. */
export function beyondMm({ kind, peakMm }: TruthEvent, limits: { hotendLimitMm: number; smallestFeedableMm: number }) {
  return kind === 'oversize' ? (peakMm ?? 0) - limits.hotendLimitMm : limits.smallestFeedableMm - (peakMm ?? 9);
}
