/** Saved settings that cannot be read are replaced by their defaults, and every page says so until a user has saved them. */
import { afterEach, expect, it } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { SettingsView } from '../../server/api/contract/set-up.ts';
import type { LogEntry } from '../../server/monitor/ports/record.ts';
import { MUTE, startTestService, type TestService } from '../api/test-service.ts';

let service: TestService;
afterEach(() => service.stop());

it('names the settings, and stops naming each once it is saved, changed or not', async () => {
  service = await startTestService(MUTE, {}, undefined, null, {}, ['nominalMm', 'toleranceMm']);
  const problem = async () => (await service.get<LiveState>('/api/state')).settingsProblem;
  const save = (body: object) => service.send('PUT', '/api/settings', body);
  expect(await problem()).toContain('Nominal diameter, mm; Tolerance, ± mm');
  const { settings, reset } = await service.get<SettingsView>('/api/settings');
  expect(reset).toStrictEqual(['nominalMm', 'toleranceMm']);

  await save({ lineName: 'Loft' });
  expect(await problem()).toContain('Nominal diameter');
  await save({ toleranceMm: 0.03 });
  expect(await problem()).toBe(
    'A saved setting of the line could not be read. It has its default: Nominal diameter, mm.',
  );
  // Saving the default unchanged also counts: the next start can read it.
  await save({ nominalMm: settings.nominalMm });
  expect(await problem()).toBeNull();
  expect(service.store.writer.loadLineSettings().settings).toMatchObject({
    nominalMm: settings.nominalMm,
    toleranceMm: 0.03,
  });
  const log = await service.get<LogEntry[]>('/api/log?limit=5');
  expect(log.map(({ what }) => what)).toContain('Kept the defaults of nominalMm.');
});
