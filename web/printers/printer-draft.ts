import type { PrinterInput, PrinterProfile } from '../../server/api/contract/printers.ts';
import { Problem } from '../../server/problem/problem.ts';
import { checkPrinterProfile } from '../../server/strand/verdict/printer-profile.ts';
import { type FaultTexts, fieldOf } from '../form/field-of.ts';

/** A printer as typed; null where the text is not a number. */
export interface PrinterDraft {
  readonly name: string;
  readonly hotendLimitMm: number | null;
  readonly smallestFeedableMm: number | null;
  readonly toleranceMm: number | null;
  readonly note: string;
}

export const NUMBER_FIELDS = [
  {
    name: 'hotendLimitMm',
    label: 'Hotend limit, mm',
    term: 'hotendLimit',
    hint: 'The largest diameter that passes the tube, the gear and the heat break.',
  },
  {
    name: 'smallestFeedableMm',
    label: 'Smallest feedable diameter, mm',
    term: 'smallestFeedable',
    hint: 'Thinner than this and the drive gear loses its grip.',
  },
  { name: 'toleranceMm', label: 'Tolerance wanted, ± mm', term: 'tolerance', hint: 'Within this a print looks even.' },
] as const;

export const DRAFT_FIELDS = ['name', ...NUMBER_FIELDS.map(({ name }) => name), 'note'] as const;

export function draftOf(printer: PrinterProfile | null): PrinterDraft {
  return {
    name: printer?.name ?? '',
    hotendLimitMm: printer?.hotendLimitMm ?? null,
    smallestFeedableMm: printer?.smallestFeedableMm ?? null,
    toleranceMm: printer?.toleranceMm ?? null,
    note: printer?.note ?? '',
  };
}

/** The draft as the service accepts it, or the faults by field. */
export function checkDraft(
  draft: PrinterDraft,
  nominalMm: number,
  others: readonly string[],
): { readonly input: PrinterInput } | { readonly faults: FaultTexts<keyof PrinterDraft> } {
  const faults: Partial<Record<keyof PrinterDraft, string>> = {};
  const name = draft.name.trim();
  if (name === '') faults.name = 'Give the printer a name.';
  else if (others.includes(name)) faults.name = 'Another printer has this name.';
  const numbers: Record<string, number> = {};
  for (const field of NUMBER_FIELDS) {
    const value = draft[field.name];
    if (value === null || value <= 0) faults[field.name] = 'Enter a number above zero, in mm.';
    else numbers[field.name] = value;
  }
  if (Object.keys(faults).length > 0) return { faults };
  const { hotendLimitMm = 0, smallestFeedableMm = 0, toleranceMm = 0 } = numbers;
  const input = { name, hotendLimitMm, smallestFeedableMm, toleranceMm, note: draft.note.trim() };
  try {
    checkPrinterProfile(input, nominalMm);
    return { input };
  } catch (thrown) {
    if (!(thrown instanceof Problem)) throw thrown;
    const field = fieldOf(thrown, DRAFT_FIELDS);
    // The nominal diameter of the line is not a field of this form.
    if (field === null) throw thrown;
    return { faults: { [field]: `${thrown.message} ${thrown.remedy}` } };
  }
}
