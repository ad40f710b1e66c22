import { effect, signal } from '@preact/signals';
import type { SettingsView } from '../../server/api/contract/set-up.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { call } from './call.ts';
import { connection } from './live-store.ts';

/** The settings of the line; null = not fetched yet. */
export const settings = signal<LineSettings | null>(null);

/** @throws ServiceProblem */
export async function loadSettings(): Promise<SettingsView> {
  const answer = await call('GET /api/settings');
  settings.value = answer.settings;
  return answer;
}

/** Saves settings and returns all settings as saved. @throws ServiceProblem */
export async function saveSettings(body: Record<string, unknown>): Promise<LineSettings> {
  const answer = await call('PUT /api/settings', { body });
  settings.value = answer.settings;
  return answer.settings;
}

/** Loads the settings whenever the connection opens: charts need the limits, zones the band for "at temperature". */
export function startSettings(): void {
  effect(() => {
    if (connection.value.phase === 'open') loadSettings().catch((thrown: unknown) => console.error(thrown));
  });
}
