/** The built service makes backups automatically, checks its record, and restores a backup with one command. */

import { readdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, expect, test, vi } from 'vitest';
import type { MaintenanceState } from '../../server/monitor/maintenance-service.ts';
import { newDataFolder, type RunningService, runToEnd, startService, until } from './running-service.ts';

vi.setConfig({ testTimeout: 90_000, hookTimeout: 120_000 });

const folders: string[] = [];
let service: RunningService | null = null;
afterEach(async () => {
  await service?.remove();
  service = null;
  for (const one of folders.splice(0)) rmSync(one, { recursive: true, force: true });
});

test('makes a backup at the first start, checks the record, and restores the backup with one command', async () => {
  const dataFolder = newDataFolder();
  const backupFolder = newDataFolder();
  folders.push(dataFolder, backupFolder);
  service = await startService({ source: 'simulator:evening?pace=20', dataFolder, args: ['--backup', backupFolder] });
  const { backups } = await until(
    () => service!.get<MaintenanceState>('/api/record'),
    (maintenance) => maintenance.backups.length > 0 && maintenance.busy === null,
    'a backup is made',
  );
  const made = backups[0]!;
  expect(made.path.startsWith(backupFolder)).toBe(true);
  const checked = await service.send('POST', '/api/record/check', {});
  expect(checked.body).toMatchObject({ busy: null, check: { faults: [] } });
  const refused = await runToEnd(['restore', '--data', dataFolder, made.path]);
  expect(refused.exitCode).toBe(4);
  expect(refused.complained).toMatch(/already in use/);
  await service.stop();
  const ended = await runToEnd(['restore', '--data', dataFolder, made.path]);
  expect(ended.complained).toBe('');
  expect(ended.exitCode).toBe(0);
  expect(ended.printed).toMatch(/^Restored .*\nThe record that was there is kept as /);
  expect(readdirSync(dataFolder).some((name) => name.includes('before-restore'))).toBe(true);
  const again = await runToEnd(['restore', '--data', dataFolder, join(backupFolder, 'nowhere.sqlite')]);
  expect(again.exitCode).toBe(6);
});
