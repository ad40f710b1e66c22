/** Reads simulated lines and their truth. It shares no code with the simulator or the server. */
import type { TruthEvent } from '../../simulator/index.ts';

const STANDARD_FIELDS = [
  'ms',
  'n',
  'd',
  ...([1, 2, 3] as const).flatMap((zone) => [`t${zone}`, `s${zone}`, `p${zone}`, `f${zone}`] as const),
  'v',
  'len',
  'rpm',
] as const;

/** Hex of the XOR of a text's bytes. */
export function xorHex(text: string): string {
  let sum = 0;
  for (let i = 0; i < text.length; i++) sum ^= text.charCodeAt(i);
  return sum.toString(16).toUpperCase().padStart(2, '0');
}

/** Complete lines of a raw text, without line ends. */
export function linesOf(text: string): string[] {
  return text.split(/\r?\n/).filter((line) => line !== '');
}

/** Fields of a named line with a correct checksum; null = a note or a damaged line. */
export function namedFields(line: string): Record<string, number> | null {
  const star = line.length - 3;
  if (line[star] !== '*' || line[0] === '#' || xorHex(line.slice(0, star)) !== line.slice(star + 1)) return null;
  const fields: Record<string, number> = {};
  for (const field of line.slice(0, star).split(' ')) {
    const equals = field.indexOf('=');
    fields[field.slice(0, equals)] = Number(field.slice(equals + 1));
  }
  return fields;
}

type Fields<Name extends string> = Readonly<Record<Name, number>>;

/** The undamaged readings of a text. @throws Error if one lacks a field of `names` */
export function readingsOf(text: string): Fields<(typeof STANDARD_FIELDS)[number]>[];
export function readingsOf<Name extends string>(text: string, names: readonly Name[]): Fields<Name>[];
export function readingsOf(text: string, names: readonly string[] = STANDARD_FIELDS): Fields<string>[] {
  return linesOf(text).flatMap((line) => {
    const fields = namedFields(line);
    if (fields === null) return [];
    const missing = names.find((name) => fields[name] === undefined);
    if (missing !== undefined) throw new Error(`The line has no field ${missing}: ${line}`);
    return [fields];
  });
}

/** The first event of a kind. @throws Error if there is none */
export function eventOf(truth: readonly TruthEvent[], kind: TruthEvent['kind']): TruthEvent {
  const event = truth.find((each) => each.kind === kind);
  if (event === undefined) throw new Error(`The truth has no event “${kind}”.`);
  return event;
}

/** Gauge length between start and end of an event, mm; NaN = it has not ended. */
export function lengthMmOf({ fromGaugeMm, toGaugeMm }: TruthEvent): number {
  return toGaugeMm === null ? Number.NaN : toGaugeMm - fromGaugeMm;
}

/** Differences between consecutive values. */
export function stepsOf(values: readonly number[]): number[] {
  const steps: number[] = [];
  for (const [i, value] of values.entries()) {
    const before = values[i - 1];
    if (before !== undefined) steps.push(value - before);
  }
  return steps;
}

export function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

export function standardDeviation(values: readonly number[]): number {
  const m = mean(values);
  return Math.sqrt(values.reduce((sum, value) => sum + (value - m) ** 2, 0) / (values.length - 1));
}

/** Amplitude of a frequency in evenly spaced values (one term of a discrete Fourier transform). */
export function amplitudeAt(values: readonly number[], cyclesPerValue: number): number {
  const m = mean(values);
  let re = 0;
  let im = 0;
  for (const [i, value] of values.entries()) {
    re += (value - m) * Math.cos(2 * Math.PI * cyclesPerValue * i);
    im += (value - m) * Math.sin(2 * Math.PI * cyclesPerValue * i);
  }
  return (2 * Math.hypot(re, im)) / values.length;
}
