/** Scenarios about the gauge, the device and its cable: the strand itself is good. */

import type { Scenario } from './scenario.ts';
import { WARM_C, warmStart } from './stages.ts';

export const noisyCable: Scenario = {
  name: 'noisy-cable',
  title: 'A noisy cable',
  description:
    'From minute one and a half to minute five a motor lead disturbs the cable: flipped bits, lost bytes, garbage, glued lines.',
  durationS: 420,
  startC: WARM_C,
  script: [
    ...warmStart,
    {
      atS: 90,
      do: 'cable',
      noise: { flips: 0.04, losses: 0.03, garbage: 0.02, glued: 0.03 },
    },
    { atS: 300, do: 'cable', noise: null },
  ],
};

export const restartingController: Scenario = {
  name: 'restarting-controller',
  title: 'A device that restarts',
  description:
    'The measuring device resets three times while winding: cut lines, a silence, clock and counters from nothing.',
  durationS: 420,
  startC: WARM_C,
  script: [
    ...warmStart,
    { atS: 110, do: 'restart', bootS: 1.7 },
    { atS: 200, do: 'restart', bootS: 0.4 },
    { atS: 290, do: 'restart', bootS: 2.4 },
  ],
};

export const gaugeFrozen: Scenario = {
  name: 'gauge-frozen',
  title: 'A gauge that stands still',
  description: 'From minute three to minute five the gauge repeats its last diameter exactly.',
  durationS: 420,
  startC: WARM_C,
  script: [
    ...warmStart,
    { atS: 180, do: 'gauge-fault', fault: 'frozen' },
    { atS: 300, do: 'gauge-fault', fault: null },
  ],
};

export const gaugeEmpty: Scenario = {
  name: 'gauge-empty',
  title: 'The strand slips out of the gauge',
  description: 'For half a minute the strand runs beside the gauge and is wound unseen.',
  durationS: 360,
  startC: WARM_C,
  script: [
    ...warmStart,
    { atS: 180, do: 'gauge-fault', fault: 'slipped-out' },
    { atS: 210, do: 'gauge-fault', fault: null },
  ],
};
