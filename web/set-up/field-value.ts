import { numberFault } from '../form/typed-number.ts';
import type { FieldSchema } from './settings-store.ts';

/** The value of a field as it is sent, and its fault; null = none. */
export function fieldValue(
  schema: FieldSchema,
  value: unknown,
): { readonly value: unknown; readonly fault: string | null } {
  if (schema.type === 'number' || schema.type === 'integer') {
    return { value, fault: numberFault(value as number | null, schema) };
  }
  const columns = schema.items?.properties;
  return columns === undefined ? { value, fault: null } : rowsValue(columns, value as readonly Row[]);
}

type Row = Readonly<Record<string, unknown>>;

/** A list of rows: every field of every row must be filled. */
function rowsValue(columns: Readonly<Record<string, FieldSchema>>, rows: readonly Row[]) {
  let fault: string | null = null;
  const value = rows.map((row, i) =>
    Object.fromEntries(
      Object.entries(columns).map(([name, schema]) => {
        const one =
          schema.type === 'number'
            ? fieldValue(schema, row[name])
            : {
                value: row[name],
                fault: String(row[name] ?? '').trim() === '' ? 'Enter it, or remove the row.' : null,
              };
        if (one.fault !== null) fault ??= `Row ${i + 1}, ${(schema.title ?? name).toLowerCase()}: ${one.fault}`;
        return [name, one.value];
      }),
    ),
  );
  return { value, fault };
}
