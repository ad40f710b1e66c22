import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import type { ExpectedHeat } from '../../server/api/contract/live.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { storeLearntModel } from './learnt-line.ts';
import { newDataFolder, type RunningService, startService, until } from './running-service.ts';
import { ScriptedBoard } from './scripted-board.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 60_000 });

let board: ScriptedBoard;
let service: RunningService;
const dataFolder = newDataFolder();
const start = () => startService({ source: board.source, dataFolder, args: ['--log', 'warn'] });
const state = () => service.get<LiveState>('/api/state');
const zoneSeen = (s: LiveState) => s.zones.length > 0;

beforeAll(async () => {
  board = await new ScriptedBoard().start();
  await storeLearntModel(dataFolder, board);
  service = await start();
});

afterAll(async () => {
  await service?.remove();
  await board?.stop();
});

test.skipIf(!IS_LONG_CHECK)('zone models are used after a restart, and forgotten on request', async () => {
  expect((await until(state, zoneSeen, 'the zone')).heat.learntZones).toEqual([1]);
  expect((await state()).heat.zonesWithoutPower).toEqual([]);
  // An expected temperature needs a minute of readings.
  expect((await service.get<ExpectedHeat>('/api/heat/expected')).zones.map(({ zone }) => zone)).toEqual([1]);

  const reply = await service.send('POST', '/api/heat/forget', {});
  expect(reply.status).toBe(200);
  expect(reply.body.heat.learntZones).toEqual([]);

  await service.stop();
  service = await start();
  expect((await until(state, zoneSeen, 'the zone again')).heat.learntZones).toEqual([]);
});
