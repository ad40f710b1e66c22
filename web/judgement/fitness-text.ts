import type { FlowView } from '../../server/api/contract/judgement.ts';
import type { VerdictView } from '../../server/api/contract/runs-and-spools.ts';
import { percent } from '../format/numbers.ts';
import type { ShapeOf } from '../shell/shape.tsx';

export const FITNESS_TEXT: Record<VerdictView['fitness'], string> = {
  fit: 'Fit to print',
  fitAfterCutting: 'Fit after cutting',
  notFit: 'Not fit to print',
  unknown: 'Not known',
};

export const FITNESS_SHAPE: Record<VerdictView['fitness'], ShapeOf> = {
  fit: 'calm',
  fitAfterCutting: 'abnormal',
  notFit: 'danger',
  unknown: 'notice',
};

/** The verdict as a word with its shape. While a spool is being wound, a piece may still become long enough. */
export function fitnessWord(fitness: VerdictView['fitness'], endedMs: number | null): { text: string; shape: ShapeOf } {
  return fitness === 'notFit' && endedMs === null
    ? { text: 'Too early to say', shape: 'notice' }
    : { text: FITNESS_TEXT[fitness], shape: FITNESS_SHAPE[fitness] };
}

/** A share with its sign: "+5.8 %", "−1.2 %". */
export function signedPercent(share: number): string {
  const text = percent(share);
  return share > 0 && !/^0(\.0+)?\D/.test(text) ? `+${text}` : text;
}

/** The flow to set on the printer: "99.4 %". */
export function flowSetting(setting: number): string {
  return `${(setting * 100).toFixed(1)}\u202f%`;
}

export interface FlowRow {
  readonly window: string;
  readonly most: string;
  readonly least: string;
  readonly mostAtMm: number | null;
  readonly leastAtMm: number | null;
}

/** The worst flow errors, one row for each length of strand they are averaged over. */
export function flowRows(worst: FlowView['worst']): FlowRow[] {
  return worst.map(({ windowMm, most, least }) => ({
    window: windowMm < 1000 ? `${windowMm / 1000}\u00a0m` : `${Math.round(windowMm / 1000)}\u00a0m`,
    most: most === null ? '–' : signedPercent(most.error),
    least: least === null ? '–' : signedPercent(least.error),
    mostAtMm: most?.fromMm ?? null,
    leastAtMm: least?.fromMm ?? null,
  }));
}

/** A span of time in whole hours and minutes, from seconds. */
export function hours(seconds: number): string {
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return `${minutes}\u00a0min`;
  return minutes % 60 === 0 ? `${minutes / 60}\u00a0h` : `${Math.floor(minutes / 60)}\u00a0h ${minutes % 60}\u00a0min`;
}
