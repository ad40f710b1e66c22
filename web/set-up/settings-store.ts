import { effect, signal } from '@preact/signals';
import type { SettingsView } from '../../server/api/contract/set-up.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { call } from '../service/call.ts';
import { connection } from '../service/live-store.ts';

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

export const settings = signal<LineSettings | null>(null);

export async function loadSettings(): Promise<SettingsAnswer> {
  const answer = (await call('GET /api/settings')) as SettingsAnswer;
  settings.value = answer.settings;
  return answer;
}

/** Loads the settings whenever the connection to the service opens: charts need the limits, the heat its band. */
export function startSettings(): void {
  effect(() => {
    if (connection.value.phase === 'open') loadSettings().catch((thrown: unknown) => console.error(thrown));
  });
}
