import { pointerTo } from '../../problem/pointer.ts';
import { Problem } from '../../problem/problem.ts';
import { TOLERANCE_MIN_MM, toleranceBand } from '../strand-limits.ts';

/** What a printer can process, mm. */
export interface PrinterProfile {
  readonly name: string;
  /** The largest diameter that passes its filament path. */
  readonly hotendLimitMm: number;
  /** The smallest diameter that its drive gear feeds reliably. */
  readonly smallestFeedableMm: number;
  /** Wanted: nominal ± this. */
  readonly toleranceMm: number;
}

/** Id of the pseudo-printer that stands for the limits set for the line. */
export const LINE_PRINTER_ID = 0;

/**
 * Checks that smallest feedable ≤ nominal − tolerance < nominal + tolerance ≤ hotend limit.
 * @throws Problem `bad-printer`, pointing to the field of the profile
 */
export function checkPrinterProfile(profile: PrinterProfile, nominalMm: number): void {
  const { name, hotendLimitMm, smallestFeedableMm, toleranceMm } = profile;
  const wrong = (field: keyof PrinterProfile | null, message: string, remedy: string): Problem =>
    new Problem('bad-printer', message, remedy, { pointer: field === null ? null : pointerTo(field) });
  if (!(nominalMm > 0)) throw wrong(null, `The nominal diameter is ${nominalMm} mm.`, 'Give it in mm, above zero.');
  if (!Number.isFinite(hotendLimitMm))
    throw wrong(
      'hotendLimitMm',
      `Printer ${name} has no hotend limit.`,
      'Give the largest diameter that passes it, in mm.',
    );
  if (!Number.isFinite(smallestFeedableMm) || smallestFeedableMm < 0)
    throw wrong(
      'smallestFeedableMm',
      `Printer ${name} has no smallest feedable diameter.`,
      'Give the smallest diameter that it feeds, in mm.',
    );
  if (!(toleranceMm >= TOLERANCE_MIN_MM))
    throw wrong(
      'toleranceMm',
      `Printer ${name} has a tolerance of ${toleranceMm} mm.`,
      `Give ${TOLERANCE_MIN_MM} mm or more.`,
    );
  const { lowerMm, upperMm } = toleranceBand({ nominalMm, toleranceMm });
  if (hotendLimitMm < upperMm)
    throw wrong(
      'hotendLimitMm',
      `Printer ${name}: the hotend limit (${hotendLimitMm} mm) is below the tolerance band's upper edge (${upperMm.toFixed(3)} mm).`,
      'Raise the limit or narrow the tolerance.',
    );
  if (smallestFeedableMm > lowerMm)
    throw wrong(
      'smallestFeedableMm',
      `Printer ${name}: the smallest feedable diameter (${smallestFeedableMm} mm) is above the tolerance band's lower edge (${lowerMm.toFixed(3)} mm).`,
      'Lower it or narrow the tolerance.',
    );
}
