import type { FieldSchema } from './settings-store.ts';

export interface FieldProps {
  readonly name: string;
  readonly schema: FieldSchema;
  /** What is in the field; null for a number that is none. */
  readonly value: unknown;
  readonly fault: string | null;
  readonly set: (value: unknown) => void;
}
