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

/** Saves settings, and answers them as they are now. @throws ServiceProblem */
export async function saveSettings(body: Record<string, unknown>): Promise<LineSettings> {
  const answer = await call('PUT /api/settings', { body });
  settings.value = answer.settings;
  return answer.settings;
}

/** Loads the settings whenever the connection to the service opens: charts need the limits, the heat its band. */
export function startSettings(): void {
  effect(() => {
    if (connection.value.phase === 'open') loadSettings().catch((thrown: unknown) => console.error(thrown));
  });
}
