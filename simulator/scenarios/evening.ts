import { BLOB, NECK, THICK_STRETCH, THIN_STRETCH } from './defect-plans.ts';
import type { Scenario } from './scenario.ts';
import { WARM_C, warmStart } from './stages.ts';

export const evening: Scenario = {
  name: 'evening',
  title: 'An evening at the extruder',
  description:
    'Warm zones, a short purge, winding within a minute, then hours of good strand with an occasional blob, thin spot, stretch out of tolerance or draught.',
  durationS: null,
  startC: WARM_C,
  script: warmStart,
  recurring: [
    {
      firstS: 75,
      gapS: [200, 600],
      steps: [{ afterS: 0, do: 'defect', plan: BLOB }],
    },
    {
      firstS: 140,
      gapS: [400, 900],
      steps: [{ afterS: 0, do: 'defect', plan: NECK }],
    },
    {
      firstS: 230,
      gapS: [1200, 2400],
      steps: [{ afterS: 0, do: 'defect', plan: THICK_STRETCH }],
    },
    {
      firstS: 640,
      gapS: [1200, 2000],
      steps: [{ afterS: 0, do: 'defect', plan: THIN_STRETCH }],
    },
    {
      firstS: 330,
      gapS: [900, 1500],
      steps: [
        { afterS: 0, do: 'draught', zone: 3, share: 0.12 },
        { afterS: 50, do: 'draught', zone: 3, share: 0 },
      ],
    },
  ],
};
