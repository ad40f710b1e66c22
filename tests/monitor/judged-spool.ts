import type { Run } from '../../server/entities/run.ts';
import type { Spool } from '../../server/entities/spool.ts';
import { type Found, type Judgement, judgementOf } from '../../server/monitor/spool/judgement.ts';
import { USUAL_CHOICES, type WoundSpool } from '../../server/monitor/spool/wound-spool.ts';
import type { MeasuredSection } from '../../server/strand/section.ts';
import { USUAL_LIMITS } from '../strand/usual-limits.ts';

export const RUN: Run = {
  id: 1,
  startedMs: 0,
  endedMs: null,
  timeZone: 'UTC',
  sourceTitle: '',
  note: '',
  title: '',
  isTest: false,
  lot: null,
};
export const SPOOL: Spool = {
  id: 1,
  runId: 1,
  ordinal: 1,
  startGaugeMm: 1000,
  endGaugeMm: 41_000,
  startedMs: 0,
  endedMs: 1_000_000,
  note: '',
  title: '',
};

/** A finished spool of 40 m. */
export function wound(more: Partial<WoundSpool> = {}): WoundSpool {
  return {
    run: RUN,
    spool: SPOOL,
    code: 'K7M-R1-1',
    name: 'R1-1',
    startGaugeMm: 1000,
    endGaugeMm: 41_000,
    reachGaugeMm: 42_000,
    scale: { factor: 1, share: 0 },
    correction: null,
    weighing: null,
    settings: {
      limits: USUAL_LIMITS,
      gaugeToWinderMm: 1000,
      densityGPerCm3: 1.24,
      limitsChanged: false,
      foundByThese: true,
    },
    recorded: [],
    unreadable: [],
    stated: [],
    cutOuts: [],
    cuts: [],
    coilNames: [],
    choices: USUAL_CHOICES,
    ...more,
  };
}

export function blob(ordinal: number, fromMm: number, toMm: number): MeasuredSection {
  return {
    ordinal,
    kind: 'blob',
    fromMm,
    toMm,
    fromTimeMs: fromMm,
    toTimeMs: toMm,
    peakMm: 2,
    peakAtMm: (fromMm + toMm) / 2,
    volumeBeyondMm3: 1,
    certainty: 'sure',
    verdict: 'discard',
    open: false,
  };
}

/** Judged by the limits of its winding, with the recorded sections. */
export function judged(more: Partial<WoundSpool> = {}, basis: Found['basis'] = 'recorded'): Judgement {
  const woundSpool = wound(more);
  const found = { basis, sections: woundSpool.recorded };
  return judgementOf(woundSpool, { kind: 'run' }, USUAL_LIMITS, found, { shortestCoilMm: 5000, meanDiameterMm: null });
}
