import type { LengthCorrection, Printer } from '../monitor/ports.ts';
import { lengthScaleOf } from '../monitor/spool/length-desk.ts';
import type { FlowError } from '../strand/verdict/flow-error.ts';
import type { FlowView, LengthScale, PrinterProfile } from './spool-contract.ts';
import { round, roundOrNull } from './views.ts';

/** Parts that several answers about a spool share. Numbers are rounded to what the sensors can tell. */

export function listOrNulls(values: ArrayLike<number>, digits: number): (number | null)[] {
  return Array.from(values, (value) => roundOrNull(value, digits));
}

export function listOf(values: ArrayLike<number>, digits: number): number[] {
  return Array.from(values, (value) => round(value, digits));
}

export function printerView(printer: Printer): PrinterProfile {
  const { id, name, hotendLimitMm, leastFeedableMm, toleranceMm, note } = printer;
  return { id, name, hotendLimitMm, leastFeedableMm, toleranceMm, note };
}

export function lengthScaleView(correction: LengthCorrection | null): LengthScale {
  const { factor, share } = lengthScaleOf(correction);
  if (correction === null) return { factor, share, measured: null };
  const { measuredMm, indicatedMm, uncertaintyMm, atMs } = correction;
  return {
    factor: round(factor, 6),
    share: round(share, 6),
    measured: { measuredMm, indicatedMm, uncertaintyMm, atMs },
  };
}

export function flowView(flow: FlowError | null): FlowView | null {
  if (flow === null) return null;
  const end = (at: { readonly error: number; readonly fromMm: number } | null) =>
    at === null ? null : { error: round(at.error, 6), fromMm: round(at.fromMm, 1) };
  const windows = (worst: FlowError['worst']) =>
    worst.map(({ windowMm, most, least }) => ({ windowMm, most: end(most), least: end(least) }));
  return {
    mean: round(flow.mean, 6),
    sd: round(flow.sd, 6),
    setting: round(flow.flowMultiplier, 5),
    worst: windows(flow.worst),
    worstAfterSetting: windows(flow.worstAfterSetting),
  };
}
