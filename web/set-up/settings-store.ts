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

interface ObjectSchema {
  readonly properties: Record<string, FieldSchema>;
}

/** The settings with the schema that draws their fields. @throws ServiceProblem */
export async function loadWithSchema(): Promise<SettingsAnswer> {
  return (await loadSettings()) as SettingsAnswer;
}
