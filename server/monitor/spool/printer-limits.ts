import type { Printer } from '../../entities/printer.ts';
import { Problem, within } from '../../problem/problem.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { checkPrinterProfile, LINE_PRINTER_ID } from '../../strand/verdict/printer-profile.ts';
import { strandLimits } from '../settings-to-parts.ts';

/** The line's own limits as a printer. */
export function linePrinter({ hotendLimitMm, leastFeedableMm, toleranceMm }: LineSettings): Printer {
  return { id: LINE_PRINTER_ID, name: 'This line’s limits', hotendLimitMm, leastFeedableMm, toleranceMm, note: '' };
}

/** The limits of the line with those of a printer. @throws Problem `bad-printer`: points to the printer's field */
export function limitsFor(printer: Printer, settings: LineSettings): StrandLimits {
  const own = strandLimits(settings);
  checkPrinterProfile(printer, own.nominalMm);
  if (!(own.strandPresentMm < printer.leastFeedableMm))
    throw new Problem(
      'bad-printer',
      `Printer ${printer.name}: the smallest feedable diameter (${printer.leastFeedableMm} mm) is not above ${own.strandPresentMm} mm, below which this line sees no strand at all.`,
      'Raise it, or lower “No strand below” in the settings of the line.',
      { pointer: '/leastFeedableMm' },
    );
  const { hotendLimitMm, leastFeedableMm, toleranceMm } = printer;
  return { ...own, hotendLimitMm, leastFeedableMm, toleranceMm };
}

/**
 * Limits of a printer for a spool. Strand of another nominal diameter than the line is set to now was wound for other
 * printers: by the line itself it is judged as it was then.
 * @throws Problem `bad-printer`; whoever asks for a judgement names a printer and not its limits, so it points to nothing
 */
export function limitsOnSpool(limitsWhenWound: StrandLimits, printer: Printer, settings: LineSettings): StrandLimits {
  if (limitsWhenWound.nominalMm === settings.nominalMm) return within(null, () => limitsFor(printer, settings));
  return printer.id === LINE_PRINTER_ID
    ? limitsWhenWound
    : within(null, () => limitsFor(printer, { ...settings, ...limitsWhenWound }));
}
