import type { SettingsView } from '../../server/api/contract/set-up.ts';
import { loadSettings } from '../service/settings.ts';

export interface SettingsAnswer extends Omit<SettingsView, 'schema'> {
  readonly schema: ObjectSchema;
}

/** The part of JSON Schema that the settings use. */
export interface FieldSchema {
  readonly type?: string;
  readonly title?: string;
  readonly description?: string;
  readonly default?: unknown;
  readonly minimum?: number;
  readonly exclusiveMinimum?: number;
  readonly maximum?: number;
  readonly minLength?: number;
  readonly maxLength?: number;
  readonly enum?: readonly string[];
  readonly items?: FieldSchema & { readonly properties?: Record<string, FieldSchema> };
}

/** Props of the field of a setting. */
export interface SettingProps {
  readonly name: string;
  readonly schema: FieldSchema;
  /** The value in the field; null for a text that is not a number. */
  readonly value: unknown;
  readonly fault: string | null;
  readonly set: (value: unknown) => void;
}

interface ObjectSchema {
  readonly properties: Record<string, FieldSchema>;
}

/** Loads the settings with the schema of their fields. @throws ServiceProblem */
export async function loadWithSchema(): Promise<SettingsAnswer> {
  return (await loadSettings()) as SettingsAnswer;
}
