import type { Printer } from '../../entities/printer.ts';
import { Problem, within } from '../../problem/problem.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { checkPrinterProfile, LINE_PRINTER_ID } from '../../strand/verdict/printer-profile.ts';
import { strandLimits } from '../settings-to-parts.ts';

/** The line's own limits as a printer. */
export function linePrinter({ hotendLimitMm, smallestFeedableMm, toleranceMm }: LineSettings): Printer {
  return { id: LINE_PRINTER_ID, name: 'This line’s limits', hotendLimitMm, smallestFeedableMm, toleranceMm, note: '' };
}

/** The limits of the line, with those of the printer where it has its own. @throws Problem `bad-printer`, with a pointer to the field */
export function limitsFor(printer: Printer, settings: LineSettings): StrandLimits {
  const own = strandLimits(settings);
  checkPrinterProfile(printer, own.nominalMm);
  if (!(own.strandPresentMm < printer.smallestFeedableMm))
    throw new Problem(
      'bad-printer',
      `Printer ${printer.name}: the smallest feedable diameter (${printer.smallestFeedableMm} mm) must be above ${own.strandPresentMm} mm, below which this line detects no strand.`,
      'Raise it, or lower “No strand below” in the settings of the line.',
      { pointer: '/smallestFeedableMm' },
    );
  const { hotendLimitMm, smallestFeedableMm, toleranceMm } = printer;
  return { ...own, hotendLimitMm, smallestFeedableMm, toleranceMm };
}

/**
 * Limits of a printer for a spool. Strand of another nominal diameter than the line's current one was wound for other
 * printers, so the line's own limits are those of that time.
 * @throws Problem `bad-printer`, without a pointer, because requests name a printer and not its limits
 */
export function limitsOnSpool(limitsWhenWound: StrandLimits, printer: Printer, settings: LineSettings): StrandLimits {
  if (limitsWhenWound.nominalMm === settings.nominalMm) return within(null, () => limitsFor(printer, settings));
  return printer.id === LINE_PRINTER_ID
    ? limitsWhenWound
    : within(null, () => limitsFor(printer, { ...settings, ...limitsWhenWound }));
}
