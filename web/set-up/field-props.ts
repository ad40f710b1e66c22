import type { FieldSchema } from './settings-store.ts';

export interface FieldProps {
  readonly name: string;
  readonly schema: FieldSchema;
  /** What is in the field: text for numbers, so that half-typed ones stay; the value itself for the rest. */
  readonly value: unknown;
  readonly fault: string | null;
  readonly set: (value: unknown) => void;
}
