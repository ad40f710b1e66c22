import { parseNumber } from '../words/numbers.ts';
import type { FieldSchema } from './settings-store.ts';

/** What is wrong with a typed number, in words; null if nothing is. */
export function numberFault(text: string, schema: FieldSchema): string | null {
  const value = parseNumber(text);
  if (value === null) return 'Give a number.';
  if (schema.type === 'integer' && !Number.isInteger(value)) return 'Give a whole number.';
  if (schema.exclusiveMinimum !== undefined && value <= schema.exclusiveMinimum)
    return `Must be more than ${schema.exclusiveMinimum}.`;
  if (schema.minimum !== undefined && value < schema.minimum) return `Must be at least ${schema.minimum}.`;
  if (schema.maximum !== undefined && value > schema.maximum) return `Must be at most ${schema.maximum}.`;
  return null;
}

/** "0.5 to 5", "more than 0, at most 1"; '' where the schema bounds nothing. */
export function boundsWords(schema: FieldSchema): string {
  const { minimum, exclusiveMinimum, maximum } = schema;
  if (minimum !== undefined && maximum !== undefined) return `${minimum} to ${maximum}`;
  if (exclusiveMinimum !== undefined && maximum !== undefined)
    return `more than ${exclusiveMinimum}, at most ${maximum}`;
  if (minimum !== undefined) return `at least ${minimum}`;
  if (maximum !== undefined) return `at most ${maximum}`;
  return '';
}
