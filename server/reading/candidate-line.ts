import type { FieldList } from './field-list.ts';
import type { Binding } from './layout-builder.ts';
import type { LineForm } from './line-form.ts';
import type { LinePosition } from './line-sequence.ts';
import type { Shape } from './shape.ts';

/** A line whose fields have been read and that still has to be validated. */
export interface ParsedLine {
  readonly shape: Shape;
  readonly bytes: Uint8Array;
  readonly start: number;
  /** End of the line as received, including its checksum. */
  readonly end: number;
  /** End of its text, without a checksum. */
  readonly textEnd: number;
  readonly fields: FieldList;
  /** Set if the line was read by the form of the line before. */
  readonly form: LineForm | null;
  /** It carries a correct checksum. */
  readonly checked: boolean;
  readonly arrivalMs: number | null;
  readonly linesAfter: number;
}

/** A parsed line with all that the validator needs to decide about it. */
export interface CandidateLine extends LinePosition {
  readonly form: LineForm;
  readonly binding: Binding | null;
  /** As sent, one per field; NaN = no value this time. */
  readonly values: Float64Array;
  readonly places: Int8Array;
  readonly arrivalMs: number | null;
  readonly linesAfter: number;
  /** Its clock or its number does not continue from the line before. */
  readonly jumps: boolean;
  /** A field has an unusual number of digits. */
  readonly hasOddPlaces: boolean;
}

/** A line that is held until the next lines confirm or refute it. */
export interface PendingLine extends CandidateLine {
  readonly raw: string;
}

export type Writable<T> = { -readonly [K in keyof T]: T[K] };

/** One object serves all lines: creating one per line costs a fifth of the speed. */
export function emptyCandidate(form: LineForm): Writable<CandidateLine> {
  return {
    form,
    binding: null,
    values: new Float64Array(0),
    places: new Int8Array(0),
    arrivalMs: null,
    linesAfter: 0,
    uptimeMs: Number.NaN,
    countMs: 1,
    number: Number.NaN,
    jumps: false,
    hasOddPlaces: false,
  };
}

/** Overwrite a candidate with a line. Without a binding, its clock and number are still unknown. */
export function fillCandidate(
  into: Writable<CandidateLine>,
  line: ParsedLine,
  form: LineForm,
  binding: Binding | null,
): void {
  const { values, places } = line.fields;
  into.form = form;
  into.binding = binding;
  into.values = values;
  into.places = places;
  into.arrivalMs = line.arrivalMs;
  into.linesAfter = line.linesAfter;
  into.uptimeMs = binding === null ? Number.NaN : uptimeOf(binding, values);
  into.countMs = binding === null ? 1 : binding.uptimeFactor;
  into.number = binding === null ? Number.NaN : numberOf(binding, values);
  into.jumps = false;
  into.hasOddPlaces = false;
}

/** A copy that stays valid after the call; the candidate and its fields are reused for the next line. */
export function pendingCopy(line: CandidateLine, raw: string): PendingLine {
  const count = line.form.count;
  return { ...line, values: line.values.slice(0, count), places: line.places.slice(0, count), raw };
}

export function withBinding(line: PendingLine, binding: Binding): PendingLine {
  return {
    ...line,
    binding,
    uptimeMs: uptimeOf(binding, line.values),
    countMs: binding.uptimeFactor,
    number: numberOf(binding, line.values),
  };
}

function uptimeOf(binding: Binding, values: Float64Array): number {
  return binding.uptimeField < 0 ? Number.NaN : values[binding.uptimeField]! * binding.uptimeFactor;
}

function numberOf(binding: Binding, values: Float64Array): number {
  return binding.numberField < 0 ? Number.NaN : values[binding.numberField]!;
}

/** Whether every value is within the range of its role, and the line number is a whole one. */
export function isPlausible(binding: Binding, values: Float64Array): boolean {
  const { lowest, highest, factors, offsets, numberField } = binding;
  for (let i = 0; i < lowest.length; i++) {
    const value = values[i]! * factors[i]! + offsets[i]!;
    if (value < lowest[i]! || value > highest[i]!) return false;
  }
  return numberField < 0 || isCount(values[numberField]!);
}

function isCount(value: number): boolean {
  return Number.isNaN(value) || Number.isInteger(value);
}

export function emptyLine(fields: FieldList): Writable<ParsedLine> {
  return {
    shape: 'named',
    bytes: NO_BYTES,
    start: 0,
    end: 0,
    textEnd: 0,
    fields,
    form: null,
    checked: false,
    arrivalMs: null,
    linesAfter: 0,
  };
}

const NO_BYTES = new Uint8Array(0);
