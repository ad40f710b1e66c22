/** Scenarios about the strand and its feed. All start warm and wind after a minute. */

import { BLOB, CONTAMINANT, NECK, THICK_STRETCH, THIN_STRETCH } from './defect-plans.ts';
import type { Scenario, ScriptStep } from './scenario.ts';
import { LINE_SPEED_MM_PER_S, PURGE_SPEED_MM_PER_S, SCREW_RPM, WARM_C, warmStart } from './stages.ts';

export const steady: Scenario = {
  name: 'steady',
  title: 'A good run',
  description: 'Even feed and true mechanics: the puller loop keeps the strand within tolerance.',
  durationS: 900,
  startC: WARM_C,
  script: warmStart,
};

export const dampFeed: Scenario = {
  name: 'damp-feed',
  title: 'Damp feed',
  description: 'From 2 to 8 min damp regrind makes steam bubbles: many short blobs and a rough strand.',
  durationS: 600,
  startC: WARM_C,
  script: [...warmStart, { atS: 120, do: 'damp-feed', on: true }, { atS: 480, do: 'damp-feed', on: false }],
};

export const bridgingFeed: Scenario = {
  name: 'bridging-feed',
  title: 'Bridging feed',
  description: 'From 2 to 10 min flakes bridge in the hopper: the diameter swings slowly by a tenth of a millimetre.',
  durationS: 780,
  startC: WARM_C,
  script: [...warmStart, { atS: 120, do: 'bridging', on: true }, { atS: 600, do: 'bridging', on: false }],
};

export const contaminant: Scenario = {
  name: 'contaminant',
  title: 'A grain that does not melt',
  description: 'A single hard grain of another polymer in an otherwise good strand.',
  durationS: 360,
  startC: WARM_C,
  script: [...warmStart, { atS: 180, do: 'defect', plan: CONTAMINANT }],
};

export const blobsAndNecks: Scenario = {
  name: 'blobs-and-necks',
  title: 'One of each',
  description: 'Four blobs, two thin spots, a thick stretch and a thin one, half a minute apart, in a good strand.',
  durationS: 480,
  startC: WARM_C,
  script: [
    ...warmStart,
    ...[BLOB, NECK, BLOB, THICK_STRETCH, BLOB, NECK, THIN_STRETCH, BLOB].map(
      (plan, i): ScriptStep => ({ atS: 100 + 35 * i, do: 'defect', plan }),
    ),
  ],
};

export const strandBreak: Scenario = {
  name: 'strand-break',
  title: 'The strand breaks',
  description:
    'The strand breaks at the die after 3 min, is threaded again a minute later and wound on a second spool.',
  durationS: 480,
  startC: WARM_C,
  script: [
    ...warmStart,
    { atS: 180, do: 'break' },
    { atS: 235, do: 'winder', on: false },
    { atS: 236, do: 'puller', mode: 'hand', speedMmPerS: PURGE_SPEED_MM_PER_S },
    { atS: 240, do: 'thread' },
    { atS: 246, do: 'puller', mode: 'hand', speedMmPerS: LINE_SPEED_MM_PER_S },
    { atS: 275, do: 'puller', mode: 'loop', speedMmPerS: LINE_SPEED_MM_PER_S },
    { atS: 300, do: 'winder', on: true },
  ],
};

export const wornScrew: Scenario = {
  name: 'worn-screw',
  title: 'Surging',
  description: `A worn screw surges once per turn, at ${SCREW_RPM} turns per minute: the diameter is periodic in time.`,
  durationS: 600,
  startC: WARM_C,
  plant: { surgeShare: 0.07 },
  script: warmStart,
};

export const untrueRoller: Scenario = {
  name: 'untrue-roller',
  title: 'Puller run-out',
  description: "The puller's roller is out of true: the diameter swings once every 157 mm of strand, at any speed.",
  durationS: 600,
  startC: WARM_C,
  plant: { runOutShare: 0.04 },
  script: [
    ...warmStart,
    // At half-time the speed changes: a swing that is periodic in length keeps its period, one in time does not.
    { atS: 300, do: 'screw', rpm: SCREW_RPM * 0.75 },
    {
      atS: 300,
      do: 'puller',
      mode: 'loop',
      speedMmPerS: LINE_SPEED_MM_PER_S * 0.75,
    },
  ],
};

export const spoolFills: Scenario = {
  name: 'spool-fills',
  title: 'A spool fills up',
  description:
    'Good strand for three and a half hours: a spool of the usual size is full, and before that an amount wanted on it is reached.',
  durationS: 12_600,
  startC: WARM_C,
  script: warmStart,
};
