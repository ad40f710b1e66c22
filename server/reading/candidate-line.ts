import type { FieldList } from './field-list.ts';
import type { Binding } from './layout-builder.ts';
import type { LineForm } from './line-form.ts';
import type { LinePlace } from './line-sequence.ts';
import type { Shape } from './shape.ts';

/** A line that was read, on its way to be judged. */
export interface LineInHand {
  readonly shape: Shape;
  readonly bytes: Uint8Array;
  readonly start: number;
  /** Of the line as it came, with its checksum. */
  readonly end: number;
  readonly fields: FieldList;
  /** Where it is known already. */
  readonly form: LineForm | null;
  readonly checked: boolean;
  readonly arrivalMs: number | null;
  readonly linesBehind: number;
}

/** What the judge knows of a line. */
export interface CandidateLine extends LinePlace {
  readonly form: LineForm;
  readonly binding: Binding | null;
  /** As sent, one a field; NaN = no value this time. */
  readonly values: Float64Array;
  readonly places: Int8Array;
  readonly arrivalMs: number | null;
  readonly linesBehind: number;
  /** Its clock or its number does not go on from the line before. */
  readonly jumps: boolean;
  /** A field has another number of digits than always. */
  readonly odd: boolean;
}

/** A line that waits for the next ones to bear it out. */
export interface WaitingLine extends CandidateLine {
  readonly raw: string;
}

export type Writable<T> = { -readonly [K in keyof T]: T[K] };

/** Room for the line that is being judged: one object for all lines, because making one a line costs a fifth of the speed. */
export function emptyCandidate(form: LineForm): Writable<CandidateLine> {
  return {
    form,
    binding: null,
    values: new Float64Array(0),
    places: new Int8Array(0),
    arrivalMs: null,
    linesBehind: 0,
    uptimeMs: Number.NaN,
    modulusMs: Number.POSITIVE_INFINITY,
    number: Number.NaN,
    jumps: false,
    odd: false,
  };
}

/** Fill it from a line; without a binding its clock and number are not yet known. */
export function fillCandidate(
  into: Writable<CandidateLine>,
  line: LineInHand,
  form: LineForm,
  binding: Binding | null,
): void {
  const { values, places } = line.fields;
  into.form = form;
  into.binding = binding;
  into.values = values;
  into.places = places;
  into.arrivalMs = line.arrivalMs;
  into.linesBehind = line.linesBehind;
  into.uptimeMs = binding === null ? Number.NaN : uptimeOf(binding, values);
  into.modulusMs = binding === null ? Number.POSITIVE_INFINITY : binding.uptimeModulusMs;
  into.number = binding === null ? Number.NaN : numberOf(binding, values);
  into.jumps = false;
  into.odd = false;
}

/** Keep a line beyond the call: the lists of fields are used again for the next one. */
export function waitingLine(line: CandidateLine, raw: string): WaitingLine {
  const count = line.form.count;
  return { ...line, values: line.values.slice(0, count), places: line.places.slice(0, count), raw };
}

export function bound(line: WaitingLine, binding: Binding): WaitingLine {
  return {
    ...line,
    binding,
    uptimeMs: uptimeOf(binding, line.values),
    modulusMs: binding.uptimeModulusMs,
    number: numberOf(binding, line.values),
  };
}

function uptimeOf(binding: Binding, values: Float64Array): number {
  return binding.uptimeField < 0 ? Number.NaN : values[binding.uptimeField]! * binding.uptimeFactor;
}

function numberOf(binding: Binding, values: Float64Array): number {
  return binding.numberField < 0 ? Number.NaN : values[binding.numberField]!;
}

/** Every value within what its role can be; counters whole. */
export function isPlausible(binding: Binding, values: Float64Array): boolean {
  const { lowest, highest, factors, offsets, uptimeField, numberField } = binding;
  for (let i = 0; i < lowest.length; i++) {
    const value = values[i]! * factors[i]! + offsets[i]!;
    if (value < lowest[i]! || value > highest[i]!) return false;
  }
  if (uptimeField >= 0 && factors[uptimeField] === 1 && !isCount(values[uptimeField]!)) return false;
  return numberField < 0 || isCount(values[numberField]!);
}

function isCount(value: number): boolean {
  return Number.isNaN(value) || Number.isInteger(value);
}
