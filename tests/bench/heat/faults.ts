import type { FaultVisibility } from '../../../server/heat/fault-visibility.ts';
import type { HeatFault } from '../../../server/heat/zone-status.ts';
import type { Chance } from './chance.ts';
import type { Meddling } from './plant.ts';
import { STEP_S } from './plant.ts';
import { BestSight, Sight } from './sight.ts';
import type { WatchedLine } from './watched-line.ts';

/** A fault, when it strikes, and by which names it is found. */
export interface FaultScene {
  readonly name: string;
  readonly when: 'cold' | 'cool' | 'heating' | 'holding' | 'off';
  readonly meddling: (chance: Chance) => Meddling;
  /** Any of these shows that something is wrong with this zone; the first ones name the right cause. */
  readonly found: readonly HeatFault[];
  readonly right: readonly HeatFault[];
  /** Seen at once, or by a rule of its own, in place of the twins. Made as the fault begins, asked after each step. */
  readonly seen?: (line: WatchedLine, zone: number) => (sinceS: number) => boolean;
  /** The seconds of `design` count for it: power lost, sensor open, shorted or slipped out, switch stuck on. */
  readonly dangerous: boolean;
  readonly withinS: number;
  /** So long after it was found a name still counts as the right one, s; usually 5. */
  readonly namedWithinS?: number;
  /** A learnt zone states within what time this fault is reported. */
  readonly stated?: keyof FaultVisibility;
  /** It lasts, so it must stay reported: watched for so long after it was found, s. */
  readonly staysForS?: number;
}

const LOST: readonly HeatFault[] = ['losingTemperature', 'noRise'];
const HEATER: readonly HeatFault[] = [...LOST, 'sensorSlipped', 'heaterWeak'];
const SENSOR_OR_HEATER: readonly HeatFault[] = [...HEATER, 'frozen', 'jumping'];
/** A coarse reading that stands at its peak is first called frozen, and the alarm says that it may be the heater. */
const HEATER_OR_STANDS: readonly HeatFault[] = [...HEATER, 'frozen'];
const atOnce = () => () => true;
/** This far off on the other side is another swing, K. */
const SWING_K = 6;

/** Counts how often the zone swung to the other side of its set-point. */
function swings(line: WatchedLine, zone: number, wanted: number): () => boolean {
  let count = 0;
  let side = 0;
  return () => {
    const awayK = line.plant.sensorC(zone - 1) - (line.plant.setpoints[zone - 1] ?? 0);
    const now = awayK > SWING_K ? 1 : awayK < -SWING_K ? -1 : 0;
    if (now !== 0 && now !== side) {
      side = now;
      count++;
    }
    return count >= wanted;
  };
}

/** How long the healthy zone would take from here to its set-point, s. */
function healthyHeatUpS(line: WatchedLine, zone: number): number {
  const twin = line.plant.noiseless();
  const fromS = twin.timeS;
  while (twin.sensorC(zone - 1) < (twin.setpoints[zone - 1] ?? 0) - 3 && twin.timeS - fromS < 3600) twin.step();
  return twin.timeS - fromS;
}

export const FAULTS: readonly FaultScene[] = [
  {
    name: 'power lost while holding',
    stated: 'lostWhileHoldingS',
    dangerous: true,
    when: 'holding',
    meddling: () => ({ heaterShare: 0 }),
    found: HEATER_OR_STANDS,
    right: LOST,
    withinS: 900,
  },
  {
    name: 'power lost while heating up',
    stated: 'lostWhileHeatingS',
    dangerous: true,
    when: 'heating',
    meddling: () => ({ heaterShare: 0 }),
    found: HEATER_OR_STANDS,
    right: LOST,
    withinS: 400,
  },
  {
    name: 'no heat from cold',
    dangerous: true,
    when: 'cold',
    meddling: () => ({ heaterShare: 0 }),
    found: HEATER,
    right: LOST,
    withinS: 400,
  },
  {
    name: 'switch stuck on while holding',
    stated: 'stuckWhileHoldingS',
    dangerous: true,
    when: 'holding',
    meddling: () => ({ stuckOn: 1 }),
    found: ['risingWithoutPower', 'aboveAbsoluteLimit'],
    right: ['risingWithoutPower'],
    withinS: 900,
  },
  {
    name: 'switch stuck on while off',
    dangerous: true,
    when: 'off',
    meddling: () => ({ stuckOn: 1 }),
    found: ['risingWithoutPower'],
    right: ['risingWithoutPower'],
    withinS: 400,
  },
  {
    name: 'sensor slipped out while holding',
    dangerous: true,
    when: 'holding',
    meddling: (chance) => ({ slipShare: chance.between(0.2, 0.6), slipLagS: chance.spread(5, 40) }),
    found: HEATER,
    right: ['sensorSlipped', ...LOST],
    withinS: 600,
    staysForS: 600,
  },
  {
    name: 'sensor slipped halfway out while holding, 20 s late',
    stated: 'slippedS',
    dangerous: true,
    when: 'holding',
    meddling: () => ({ slipShare: 0.5, slipLagS: 20 }),
    found: HEATER,
    right: ['sensorSlipped', ...LOST],
    withinS: 600,
    staysForS: 600,
  },
  {
    name: 'sensor slipped out while heating up',
    dangerous: true,
    when: 'heating',
    meddling: (chance) => ({ slipShare: chance.between(0.2, 0.6), slipLagS: chance.spread(5, 40) }),
    found: SENSOR_OR_HEATER,
    right: ['sensorSlipped', ...LOST],
    withinS: 600,
    staysForS: 600,
  },
  {
    name: 'sensor slipped out 40 s into the heat-up',
    dangerous: true,
    when: 'cool',
    meddling: (chance) => ({ slipShare: chance.between(0.2, 0.6), slipLagS: chance.spread(5, 40) }),
    found: SENSOR_OR_HEATER,
    right: ['sensorSlipped', ...LOST, 'heaterWeak'],
    withinS: 600,
    staysForS: 600,
  },
  {
    name: 'reading frozen while holding',
    dangerous: false,
    when: 'holding',
    meddling: () => ({ frozen: true }),
    found: SENSOR_OR_HEATER,
    right: ['frozen'],
    withinS: 1500,
  },
  {
    name: 'reading frozen while heating up',
    dangerous: false,
    when: 'heating',
    meddling: () => ({ frozen: true }),
    found: SENSOR_OR_HEATER,
    right: ['frozen'],
    withinS: 600,
  },
  {
    name: 'heater weakened, heating up',
    dangerous: false,
    when: 'cold',
    meddling: (chance) => ({ heaterShare: chance.between(0.3, 0.6) }),
    found: [...HEATER, 'late'],
    right: ['heaterWeak', 'late'],
    withinS: 1500,
  },
  {
    name: 'half a heater lost, heating up',
    stated: 'halfLostWhileHeatingS',
    dangerous: false,
    when: 'heating',
    meddling: () => ({ heaterShare: 0.5 }),
    found: HEATER,
    right: ['heaterWeak'],
    withinS: 900,
    namedWithinS: 60,
  },
  {
    name: 'half a heater lost while holding',
    stated: 'halfLostWhileHoldingS',
    dangerous: false,
    when: 'holding',
    meddling: () => ({ heaterShare: 0.5 }),
    found: HEATER_OR_STANDS,
    right: ['heaterWeak'],
    withinS: 900,
    namedWithinS: 120,
  },
  {
    name: 'heater fades while holding (dead within 8–25 min)',
    dangerous: false,
    when: 'holding',
    meddling: (chance) => ({ fadesWithinS: chance.between(500, 1500) }),
    found: [...HEATER, 'drifting'],
    right: [...HEATER, 'drifting'],
    withinS: 2000,
  },
  {
    name: 'sensor reads ever lower, and its controller follows (20–60 K/h)',
    dangerous: false,
    when: 'holding',
    meddling: (chance) => ({ sinksKPerS: chance.between(20, 60) / 3600 }),
    found: [...SENSOR_OR_HEATER, 'drifting'],
    right: ['drifting', 'sensorSlipped'],
    // The reading stays at the set-point, so it does not show the fault.
    seen: () => () => false,
    withinS: 1200,
  },
  {
    name: 'swings around its set-point (from its fourth swing)',
    dangerous: false,
    when: 'holding',
    meddling: (chance) => ({ swingsByK: chance.between(14, 25) }),
    found: ['oscillating'],
    right: ['oscillating'],
    seen: (line, zone) => swings(line, zone, 4),
    withinS: 3600,
  },
  {
    name: 'set-point out of reach (from three times a healthy heat-up)',
    dangerous: false,
    when: 'cold',
    meddling: () => ({ driveAtMost: 0.12 }),
    found: ['late'],
    right: ['late'],
    seen: (line, zone) => {
      const healthyS = healthyHeatUpS(line, zone);
      return (sinceS) => sinceS > 3 * healthyS;
    },
    withinS: 6000,
  },
  {
    name: 'sensor open',
    dangerous: true,
    when: 'holding',
    meddling: (chance) => chance.pick([{ says: Number.NaN }, { says: -40 }, { says: 0 }, { faultBits: 1 }]),
    found: ['sensorOpen'],
    right: ['sensorOpen'],
    seen: atOnce,
    withinS: 60,
  },
  {
    name: 'sensor shorted',
    dangerous: true,
    when: 'heating',
    meddling: (chance) => chance.pick([{ says: 500 }, { says: 999 }, { faultBits: 2 }, { faultBits: 4 }]),
    found: ['sensorShort'],
    right: ['sensorShort'],
    seen: atOnce,
    withinS: 60,
  },
  {
    name: 'sensor loose (from its third excursion)',
    dangerous: false,
    when: 'holding',
    meddling: (chance) => ({ looseEveryS: chance.between(2, 8), looseK: chance.between(25, 80) }),
    found: ['jumping', 'losingTemperature'],
    right: ['jumping'],
    seen: (line, zone) => () => line.plant.looseTold(zone - 1) >= 3,
    withinS: 240,
  },
];

export interface FaultOutcome {
  readonly seed: number;
  readonly zone: number;
  /** s after it could be seen; below 0 = before that. null = not found. */
  readonly delayS: number | null;
  readonly sinceItBeganS: number | null;
  /** null = it could not be seen within the time. */
  readonly seenAfterS: number | null;
  readonly frozen: boolean;
  /** Earliest time at which an observer who knows the plant exactly could be sure, s since its start. null = not before the alarm. */
  readonly atBestAfterS: number | null;
  /** Time that the zone stated for it just before, s. null = it says that it cannot tell, was not learnt, or states none. */
  readonly statedS: number | null;
  readonly namedRight: boolean;
  /** No fault of the zone was reported any more although it lasted. */
  readonly letGo: boolean;
  /** Claims of healthy zones, or before the fault. */
  readonly falseClaims: number;
}

/** One fault on one line. */
export function playFault(fault: FaultScene, seed: number, line: WatchedLine): FaultOutcome {
  const { chance } = line;
  const zone = 1 + Math.floor(chance.next() * 3);
  const meddling = fault.meddling(chance);
  begin(line, fault, zone);
  const { plant } = line;
  const claimsBefore = line.claims.length;
  const statedS = fault.stated === undefined ? null : (line.watch.visibilities().get(zone)?.[fault.stated] ?? null);
  const fromS = plant.timeS;
  const sight = fault.seen === undefined ? new Sight(plant, zone - 1, meddling) : null;
  const seen = fault.seen?.(line, zone);
  const best = fault.seen === undefined ? new BestSight(plant, zone - 1, meddling) : null;
  line.meddle(zone, meddling);
  let seenAfterS: number | null = null;
  let foundAfterS: number | null = null;
  let atBestAfterS: number | null = null;
  for (let i = 0; i < fault.withinS / STEP_S && (foundAfterS === null || seenAfterS === null); i++) {
    line.step();
    sight?.step();
    best?.step();
    const sinceS = plant.timeS - fromS;
    if (atBestAfterS === null && best?.seen) atBestAfterS = sinceS;
    if (seenAfterS === null && (sight?.seen ?? seen?.(sinceS))) seenAfterS = sinceS;
    if (foundAfterS === null && line.claims.some((claim) => claim.zone === zone && fault.found.includes(claim.fault)))
      foundAfterS = sinceS;
  }
  const { namedWithinS = 5, staysForS = 0 } = fault;
  let letGo = false;
  for (let i = 0; foundAfterS !== null && i < Math.max(namedWithinS, staysForS) / STEP_S; i++) {
    line.step();
    if (i < staysForS / STEP_S && line.status(zone)?.faults.length === 0) letGo = true;
  }
  const first = line.claims.slice(claimsBefore).filter((claim) => claim.zone === zone);
  const untilS = fromS + (foundAfterS ?? fault.withinS);
  return {
    seed,
    zone,
    delayS: foundAfterS === null || seenAfterS === null ? null : foundAfterS - seenAfterS,
    sinceItBeganS: foundAfterS,
    seenAfterS,
    frozen: meddling.frozen === true,
    atBestAfterS,
    statedS,
    namedRight: first.some(({ fault: name, atS }) => fault.right.includes(name) && atS < untilS + namedWithinS),
    letGo,
    falseClaims:
      claimsBefore +
      line.claims.slice(claimsBefore).filter((claim) => claim.zone !== zone && claim.atS <= untilS).length,
  };
}

/** Brings the line to where the fault strikes. */
function begin(line: WatchedLine, fault: FaultScene, zone: number): void {
  const { chance, plant } = line;
  const setpoints = line.usualSetpoints();
  line.run(chance.between(10, 90));
  if (fault.when === 'off') return;
  line.set(...setpoints);
  if (fault.when === 'cool') line.run(40);
  if (fault.when === 'holding') line.heatUp(chance.between(200, 500));
  if (fault.when === 'heating') {
    const goalC = chance.between(60, 140);
    for (let s = 0; s < 3000 && plant.sensorC(zone - 1) < goalC; s++) line.run(1);
  }
}
