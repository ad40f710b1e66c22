/** Scenarios about the gauge, the device and its cable. The strand itself is good. */

import { BLOB } from './defect-plans.ts';
import type { Scenario } from './scenario.ts';
import { WARM_C, warmStart } from './stages.ts';

export const noisyCable: Scenario = {
  name: 'noisy-cable',
  title: 'A noisy cable',
  description: 'From 1.5 to 5 min a motor lead disturbs the cable: flipped bits, lost bytes, garbage, joined lines.',
  durationS: 420,
  startC: WARM_C,
  script: [
    ...warmStart,
    {
      atS: 90,
      do: 'cable',
      noise: { flips: 0.04, losses: 0.03, garbage: 0.02, joined: 0.03 },
    },
    { atS: 300, do: 'cable', noise: null },
  ],
};

export const restartingController: Scenario = {
  name: 'restarting-controller',
  title: 'A microcontroller that restarts',
  description:
    'The microcontroller restarts three times while winding: cut lines, a silence, then clock and counters start at zero.',
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
  title: 'A frozen gauge',
  description: 'From 3 to 5 min the gauge repeats its last diameter exactly.',
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
  description: 'For half a minute the strand runs next to the gauge and is wound without being measured.',
  durationS: 360,
  startC: WARM_C,
  script: [
    ...warmStart,
    { atS: 180, do: 'gauge-fault', fault: 'slipped-out' },
    { atS: 210, do: 'gauge-fault', fault: null },
  ],
};

export const shortRange: Scenario = {
  name: 'gauge-short-range',
  title: 'A gauge that ends too low',
  description:
    'The gauge shows nothing above 1.80 mm, less than the hotend limit, so it cannot show how thick a blob is.',
  durationS: 420,
  startC: WARM_C,
  script: [
    { atS: 0, do: 'gauge-fault', fault: 'short-range' },
    ...warmStart,
    { atS: 120, do: 'defect', plan: BLOB },
    { atS: 150, do: 'defect', plan: BLOB },
    { atS: 180, do: 'defect', plan: BLOB },
  ],
};

export const wrongReadings: Scenario = {
  name: 'gauge-wrong-readings',
  title: 'A gauge with wrong readings',
  description:
    'From 2 min on, now and then two readings in a row are far too high: too few to tell a short blob from a disturbance.',
  durationS: 420,
  startC: WARM_C,
  script: [...warmStart, { atS: 120, do: 'gauge-fault', fault: 'wrong-readings' }],
};

export const counterSlips: Scenario = {
  name: 'counter-slips',
  title: 'A length counter that slips',
  description: 'From 2 to 5 min the wheel of the length counter slips, so it counts half of what the speed says.',
  durationS: 420,
  startC: WARM_C,
  script: [...warmStart, { atS: 120, do: 'counter-slip', share: 0.5 }, { atS: 300, do: 'counter-slip', share: 0 }],
};

export const newSketch: Scenario = {
  name: 'new-sketch',
  title: 'A microcontroller with a new sketch',
  description:
    'While winding, a new sketch is loaded into the microcontroller, and all signals have other names from then on.',
  durationS: 240,
  startC: WARM_C,
  script: [...warmStart, { atS: 120, do: 'new-sketch', bootS: 1.5 }],
};
