import type { AlarmFigures } from '../../server/alarm/alarm-figures.ts';

/** Figures of a night without an alarm. */
export const CALM_FIGURES = {
  alarms: 0,
  perTenMin: 0,
  peakPerTenMin: 0,
  floods: [],
  floodShare: 0,
  byPriority: { high: 0, medium: 0, low: 0 },
  frequent: [],
  chattering: [],
  fleeting: [],
  stale: [],
  medianAnswerMs: null,
  unanswered: 0,
} satisfies AlarmFigures;
