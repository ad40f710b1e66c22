import type { FaultVisibility } from '../../../server/heat/fault-visibility.ts';
import { begin, FAULTS, type FaultScene } from './faults.ts';
import type { Meddling } from './plant.ts';
import { STEP_S } from './plant.ts';
import type { WatchedLine } from './watched-line.ts';

/** A fault for which a learnt zone states a time, and how the bench causes it. */
export interface StatedFault {
  readonly stated: keyof FaultVisibility;
  readonly scene: FaultScene;
}

function scene(name: string, meddling?: Meddling): FaultScene {
  const found = FAULTS.find((fault) => fault.name === name);
  if (found === undefined) throw new Error(`The bench has no fault named "${name}".`);
  return meddling === undefined ? found : { ...found, meddling: () => meddling };
}

export const STATED_FAULTS: readonly StatedFault[] = [
  { stated: 'lostWhileHeatingS', scene: scene('power lost while heating up') },
  { stated: 'lostWhileHoldingS', scene: scene('power lost while holding') },
  { stated: 'halfLostWhileHeatingS', scene: scene('half a heater lost, heating up') },
  { stated: 'halfLostWhileHoldingS', scene: scene('half a heater lost while holding') },
  { stated: 'stuckWhileHoldingS', scene: scene('switch stuck on while holding') },
  // The slip for which the time is stated.
  { stated: 'slippedS', scene: scene('sensor slipped out while holding', { slipShare: 0.5, slipLagS: 20 }) },
];

export interface StatedOutcome {
  readonly seed: number;
  readonly fault: keyof FaultVisibility;
  /** null = the zone says that it cannot tell, or its model was not learnt. */
  readonly statedS: number | null;
  /** null = not reported within the time of the scene. */
  readonly reportedS: number | null;
}

/** The time stated just before a fault, and the time after which it was reported. */
export function playStated({ stated, scene }: StatedFault, seed: number, line: WatchedLine): StatedOutcome {
  const zone = 1 + Math.floor(line.chance.next() * 3);
  const meddling = scene.meddling(line.chance);
  begin(line, scene, zone);
  const statedS = line.watch.visibilities().get(zone)?.[stated] ?? null;
  const fromS = line.plant.timeS;
  const reported = () =>
    line.claims.some((one) => one.zone === zone && one.atS > fromS && scene.found.includes(one.fault));
  line.meddle(zone, meddling);
  for (let i = 0; i < scene.withinS / STEP_S && !reported(); i++) line.step();
  return { seed, fault: stated, statedS, reportedS: reported() ? line.plant.timeS - fromS : null };
}
