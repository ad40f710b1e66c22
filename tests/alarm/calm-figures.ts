import type { AlarmFigures } from '../../server/alarm/alarm-figures.ts';

/** What a night is measured as in which nothing called. */
export const CALM_FIGURES = {
  calls: 0,
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
