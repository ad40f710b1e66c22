import { readColumns } from './columns-shape.ts';
import type { DecimalReader } from './decimal.ts';
import type { FieldList } from './field-list.ts';
import { readJson } from './json-shape.ts';
import { readNamed } from './named-shape.ts';
import { readText } from './text-shape.ts';

export const SHAPES = ['named', 'json', 'columns', 'text'] as const;
export type Shape = (typeof SHAPES)[number];

/**
 * The shape that a valid line would have, judged by its first special character. A line that cannot be read in it may
 * still be free text.
 */
export function likelyShape(bytes: Uint8Array, start: number, end: number): Exclude<Shape, 'text'> {
  for (let at = start; at < end; at++) {
    const byte = bytes[at]!;
    if (byte === 123 || byte === 34) return 'json';
    if (byte === 61 || byte === 58) return 'named';
  }
  return 'columns';
}

/** Read a line of one shape into `fields`. */
export function readShape(
  shape: Shape,
  bytes: Uint8Array,
  start: number,
  end: number,
  fields: FieldList,
  decimal: DecimalReader,
): 'numbers' | 'header' | 'none' {
  if (shape === 'named') return readNamed(bytes, start, end, fields, decimal) ? 'numbers' : 'none';
  if (shape === 'json') return readJson(bytes, start, end, fields, decimal) ? 'numbers' : 'none';
  if (shape === 'text') return readText(bytes, start, end, fields, decimal) ? 'numbers' : 'none';
  return readColumns(bytes, start, end, fields, decimal);
}
