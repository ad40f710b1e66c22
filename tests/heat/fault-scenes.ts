import type { HeatFault } from '../../server/heat/zone-status.ts';
import { Scene } from './scenes.ts';
import type { LineParameters, Meddling } from './zone-model.ts';

/**
 * Scenes for the heat watch: normal operation, which must raise nothing, and faults, each with the moment from which it is
 * visible.
 */

type Over = Partial<LineParameters> & { readonly onOff?: boolean };

/** Everything that a healthy line does in an evening. `claims` names the phase of each fault that was raised. */
export function normalLife(seed: number, over: Over = {}): { scene: Scene; claims: string[] } {
  const scene = new Scene(seed, over);
  const { random: r } = scene;
  const t = [170 + 20 * r(), 185 + 30 * r(), 190 + 40 * r()] as const;
  const claims: string[] = [];
  const phase = (name: string, live: () => void) => {
    const before = scene.faults.length;
    live();
    for (const { zone, fault } of scene.faults.slice(before)) claims.push(`${name}: ${fault} of zone ${zone}`);
  };
  phase('cold', () => scene.run(5 + 30 * r()));
  phase('heat-up', () => scene.set(...t).heatUp(1800, 200 + 200 * r()));
  phase('cold feed', () => scene.meddle(1, { loss: 0.05 + 0.1 * r() }).run(300));
  phase('fan', () => scene.meddle(3, { loss: 0.05 + 0.07 * r() }).run(200));
  phase('fan off', () => scene.meddle(3, {}).run(200));
  phase('up', () => scene.set(t[0] + 10 * r(), t[1] + 20 * r(), t[2] + 10 * r()).run(400));
  phase('down', () => scene.set(t[0] - 20 * r(), t[1] - 40 * r(), t[2] - 10 * r()).run(400));
  phase('gap', () => {
    scene.line.runSilently(60 + 200 * r());
    scene.run(100);
  });
  phase('restart', () => {
    scene.line.restart();
    scene.run(450);
  });
  phase('off', () => scene.set(0, 0, 0).run(500));
  phase('one zone on', () => scene.set(0, t[1] - 40, 0).run(500));
  phase('all off', () => scene.set(0, 0, 0).run(400));
  return { scene, claims };
}

export interface FaultScene {
  readonly name: string;
  readonly when: 'holding' | 'heating' | 'cold' | 'off';
  readonly meddling: Meddling;
  /** An observer who knows the zone can see the fault now; `sinceS` = since it started. */
  readonly visible: (scene: Scene, zone: number, sinceS: number) => boolean;
  readonly wanted: readonly HeatFault[];
  readonly atMostS: number;
}

const deadTime = (scene: Scene, zone: number) => scene.line.parameters.zones[zone - 1]?.deadTimeS ?? 0;
const aboveSetpoint = (scene: Scene, zone: number) =>
  scene.line.sensedC(zone - 1) - (scene.line.setpoints[zone - 1] ?? 0);
const HEATER = ['losingTemperature', 'noRise', 'sensorSlipped'] as const;
const atOnce = () => true;

export const FAULT_SCENES: readonly FaultScene[] = [
  {
    name: 'power lost while holding (visible: 5 K below)',
    when: 'holding',
    meddling: { heaterDead: true },
    visible: (s, z) => aboveSetpoint(s, z) < -5,
    wanted: HEATER,
    atMostS: 600,
  },
  {
    name: 'power lost while heating (after the dead time)',
    when: 'heating',
    meddling: { heaterDead: true },
    visible: (s, z, sinceS) => sinceS >= deadTime(s, z),
    wanted: HEATER,
    atMostS: 300,
  },
  {
    name: 'no heat from cold (after 20 s)',
    when: 'cold',
    meddling: { heaterDead: true },
    visible: (_s, _z, sinceS) => sinceS >= 20,
    wanted: ['noRise'],
    atMostS: 300,
  },
  {
    name: 'switch stuck on while holding (power 0 for 20 s, 2 K above)',
    when: 'holding',
    meddling: { stuckOn: true },
    visible: (s, z) => s.powerOffForS(z) >= 20 && aboveSetpoint(s, z) > 2,
    wanted: ['risingWithoutPower'],
    atMostS: 900,
  },
  {
    name: 'switch stuck on while off (after the dead time, 2 K up)',
    when: 'off',
    meddling: { stuckOn: true },
    visible: (s, z) => s.line.sensedC(z - 1) > s.line.parameters.roomC + 2,
    wanted: ['risingWithoutPower'],
    atMostS: 300,
  },
  {
    name: 'sensor slipped while holding (visible: 5 K below)',
    when: 'holding',
    meddling: { slippedTauS: 8 },
    visible: (s, z) => aboveSetpoint(s, z) < -5,
    wanted: HEATER,
    atMostS: 300,
  },
  {
    name: 'sensor slipped while heating',
    when: 'heating',
    meddling: { slippedTauS: 8 },
    visible: atOnce,
    wanted: HEATER,
    atMostS: 300,
  },
  {
    name: 'reading frozen while heating',
    when: 'heating',
    meddling: { frozen: true },
    visible: atOnce,
    wanted: ['frozen', 'noRise'],
    atMostS: 300,
  },
  {
    name: 'reading frozen while holding (after 45 s)',
    when: 'holding',
    meddling: { frozen: true },
    visible: (_s, _z, sinceS) => sinceS >= 45,
    wanted: ['frozen', 'noRise', 'losingTemperature'],
    atMostS: 1200,
  },
  {
    name: 'sensor loose, every 3 s (after the third)',
    when: 'holding',
    meddling: { looseEveryS: 3 },
    visible: (_s, _z, sinceS) => sinceS >= 9,
    wanted: ['jumping'],
    atMostS: 120,
  },
  {
    name: 'open, reads −40',
    when: 'holding',
    meddling: { sensorReads: -40 },
    visible: atOnce,
    wanted: ['sensorOpen'],
    atMostS: 60,
  },
  {
    name: 'open, reads 0',
    when: 'holding',
    meddling: { sensorReads: 0 },
    visible: atOnce,
    wanted: ['sensorOpen'],
    atMostS: 60,
  },
  {
    name: 'open, no value',
    when: 'holding',
    meddling: { sensorReads: Number.NaN },
    visible: atOnce,
    wanted: ['sensorOpen'],
    atMostS: 60,
  },
  {
    name: 'open, fault bit',
    when: 'heating',
    meddling: { faultBits: 1 },
    visible: atOnce,
    wanted: ['sensorOpen'],
    atMostS: 60,
  },
  {
    name: 'short, reads 500',
    when: 'holding',
    meddling: { sensorReads: 500 },
    visible: atOnce,
    wanted: ['sensorShort'],
    atMostS: 60,
  },
  {
    name: 'short, fault bit',
    when: 'heating',
    meddling: { faultBits: 2 },
    visible: atOnce,
    wanted: ['sensorShort'],
    atMostS: 60,
  },
];

export interface FaultOutcome {
  /** Time from visible to found, s; null = never found. */
  readonly delayS: number | null;
  /** All faults of the zone when it was found. */
  readonly found: string;
  /** Faults of healthy zones, or before the fault. */
  readonly falseClaims: number;
  readonly scene: Scene;
  readonly zone: number;
}

/** Simulates one fault on one scattered line. */
export function playFault(fault: FaultScene, seed: number, over: Over = {}): FaultOutcome {
  const scene = new Scene(seed, over);
  const { random: r, line } = scene;
  const zone = 1 + Math.floor(r() * 3);
  const setpoints = [170 + 20 * r(), 185 + 30 * r(), 190 + 40 * r()];
  scene.run(fault.when === 'off' ? 60 : 5);
  if (fault.when === 'cold') scene.meddle(zone, fault.meddling);
  if (fault.when !== 'off') scene.set(...setpoints);
  if (fault.when === 'holding') scene.heatUp(1800, 200 + 200 * r());
  if (fault.when === 'heating') {
    const goalC = 60 + 80 * r();
    scene.runUntil(() => line.sensedC(zone - 1) > goalC, 900);
  }
  const before = scene.faults.length;
  const fromS = line.timeS;
  scene.meddle(zone, fault.meddling);
  let visibleS: number | null = null;
  const found = scene.runUntil(() => {
    if (visibleS === null && fault.visible(scene, zone, line.timeS - fromS)) visibleS = line.timeS;
    return scene.has(zone, ...fault.wanted);
  }, fault.atMostS);
  return {
    delayS: found === null ? null : line.timeS - (visibleS ?? line.timeS),
    found: found === null ? '' : scene.status(zone).faults.join('+'),
    falseClaims: before + scene.faults.slice(before).filter((claim) => claim.zone !== zone).length,
    scene,
    zone,
  };
}
