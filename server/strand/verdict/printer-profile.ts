import { Problem } from '../../problem/problem.ts';

/** What a printer lets through, mm. */
export interface PrinterProfile {
  readonly name: string;
  /** The largest diameter that passes its filament path. */
  readonly hotendLimitMm: number;
  /** The smallest diameter that its drive gear feeds surely. */
  readonly leastFeedableMm: number;
  /** Wanted: nominal ± this. */
  readonly toleranceMm: number;
}

/** The printer that stands for the limits that are set for the line. */
export const LINE_PRINTER_ID = 0;

/** Throws a Problem (`bad-request`) unless least feedable < nominal − tolerance < nominal + tolerance < hotend limit. */
export function checkPrinterProfile(profile: PrinterProfile, nominalMm: number): void {
  const { name, hotendLimitMm, leastFeedableMm, toleranceMm } = profile;
  const wrong = (message: string, remedy: string): Problem => new Problem('bad-request', message, remedy);
  if (!(nominalMm > 0)) throw wrong(`The nominal diameter is ${nominalMm} mm.`, 'Give it in mm, above zero.');
  if (!Number.isFinite(hotendLimitMm))
    throw wrong(`Printer ${name} has no hotend limit.`, 'Give the largest diameter that passes it, in mm.');
  if (!Number.isFinite(leastFeedableMm) || leastFeedableMm < 0)
    throw wrong(`Printer ${name} has no least feedable diameter.`, 'Give the smallest diameter that it feeds, in mm.');
  if (!(toleranceMm > 0)) throw wrong(`Printer ${name} wants a tolerance of ${toleranceMm} mm.`, 'Give mm above zero.');
  if (hotendLimitMm < nominalMm + toleranceMm)
    throw wrong(
      `Printer ${name}: the hotend limit (${hotendLimitMm} mm) lies below the tolerance band's upper edge (${(nominalMm + toleranceMm).toFixed(3)} mm).`,
      'Raise the limit or narrow the tolerance.',
    );
  if (leastFeedableMm > nominalMm - toleranceMm)
    throw wrong(
      `Printer ${name}: the least feedable diameter (${leastFeedableMm} mm) lies above the tolerance band's lower edge (${(nominalMm - toleranceMm).toFixed(3)} mm).`,
      'Lower it or narrow the tolerance.',
    );
}
