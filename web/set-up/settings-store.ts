import { effect, signal } from '@preact/signals';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { connection } from '../service/live-store.ts';
import { request } from '../service/request.ts';

export interface SettingsAnswer {
  readonly settings: LineSettings;
  readonly schema: ObjectSchema;
  /** The source was given on the command line or in the environment and cannot be changed here. */
  readonly sourceFixed: boolean;
  /** Address of the source that is read now. */
  readonly sourceInUse: string;
  /** Names of the simulator's scenarios. */
  readonly scenarios: readonly string[];
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

export interface ObjectSchema {
  readonly properties: Record<string, FieldSchema>;
}

export const settings = signal<LineSettings | null>(null);

export async function loadSettings(): Promise<SettingsAnswer> {
  const answer = await request<SettingsAnswer>('GET', '/api/settings');
  settings.value = answer.settings;
  return answer;
}

/** Loads the settings whenever the connection to the service opens: charts need the limits, the heat its band. */
export function startSettings(): void {
  effect(() => {
    if (connection.value.phase === 'open') loadSettings().catch((thrown: unknown) => console.error(thrown));
  });
}
