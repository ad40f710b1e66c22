import { readColumns } from './columns-shape.ts';
import type { DecimalReader } from './decimal.ts';
import type { FieldList } from './field-list.ts';
import { readJson } from './json-shape.ts';
import { readNamed } from './named-shape.ts';
import { readText } from './text-shape.ts';

export const SHAPES = ['named', 'json', 'columns', 'text'] as const;
export type Shape = (typeof SHAPES)[number];

const QUOTE = '"'.charCodeAt(0);
const COLON = ':'.charCodeAt(0);
const EQUALS = '='.charCodeAt(0);
const OPEN_OBJECT = '{'.charCodeAt(0);

/** Guesses a line's format from its first `{`, `"`, `=` or `:`. */
export function likelyShape(bytes: Uint8Array, start: number, end: number): Exclude<Shape, 'text'> {
  for (let at = start; at < end; at++) {
    const byte = bytes[at]!;
    if (byte === OPEN_OBJECT || byte === QUOTE) return 'json';
    if (byte === EQUALS || byte === COLON) return 'named';
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
