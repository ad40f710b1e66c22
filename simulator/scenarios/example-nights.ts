/** Whole nights for a first look at the service, from heating up to shutting down. They are not chosen by name. */

import { BLOB, NECK, THICK_STRETCH, THIN_STRETCH } from './defect-plans.ts';
import type { Scenario } from './scenario.ts';
import { COLD_C, coldStart, shutDown } from './stages.ts';

const SHUT_DOWN_S = 4100;
/** Long enough for the run to end. */
const END_S = SHUT_DOWN_S + 90;

export const blobNight: Scenario = {
  name: 'blob-night',
  title: 'Blobs and thin spots',
  description: 'Unsieved regrind: a blob every few minutes, thin spots, and stretches out of tolerance.',
  durationS: END_S,
  startC: COLD_C,
  script: [...coldStart, ...shutDown(SHUT_DOWN_S)],
  recurring: [
    { firstS: 1760, gapS: [150, 500], steps: [{ afterS: 0, do: 'defect', plan: BLOB }] },
    { firstS: 1900, gapS: [300, 700], steps: [{ afterS: 0, do: 'defect', plan: NECK }] },
    { firstS: 2300, gapS: [900, 1500], steps: [{ afterS: 0, do: 'defect', plan: THICK_STRETCH }] },
    { firstS: 2900, gapS: [900, 1500], steps: [{ afterS: 0, do: 'defect', plan: THIN_STRETCH }] },
  ],
};

/** The maker shuts the line down ten minutes after the heater has failed. */
const FAILS_S = 3000;

export const heaterNight: Scenario = {
  name: 'heater-night',
  title: 'A heater fails',
  description: 'After twenty minutes of winding the heater of zone 2 burns out, and the line is shut down.',
  durationS: FAILS_S + 690,
  startC: COLD_C,
  script: [...coldStart, { atS: FAILS_S, do: 'heat-fault', zone: 2, fault: 'power-lost' }, ...shutDown(FAILS_S + 600)],
  recurring: [{ firstS: 2200, gapS: [700, 1100], steps: [{ afterS: 0, do: 'defect', plan: NECK }] }],
};

export const goodNight: Scenario = {
  name: 'good-night',
  title: 'A good night',
  description: 'Sieved and dried regrind: even strand, with a single blob.',
  durationS: END_S,
  startC: COLD_C,
  script: [...coldStart, { atS: 3100, do: 'defect', plan: BLOB }, ...shutDown(SHUT_DOWN_S)],
};
