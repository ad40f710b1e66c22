/** The heat on the live page: what was learnt about the zones, what cannot be detected, and forgetting it. */
import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { storeLearntModel } from '../service/learnt-line.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { ScriptedBoard } from '../service/scripted-board.ts';
import { DESKTOP, sharedBrowser, stateFaults, type TestBrowser } from './browser.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

let board: ScriptedBoard;
let service: RunningService;
let browser: TestBrowser;

beforeAll(async () => {
  board = await new ScriptedBoard().start();
  const dataFolder = newDataFolder();
  await storeLearntModel(dataFolder, board);
  [service, browser] = await Promise.all([
    startService({ source: board.source, dataFolder, args: ['--log', 'warn'] }),
    sharedBrowser(),
  ]);
  await until(
    () => service.get<LiveState>('/api/state'),
    (s) => s.zones.length > 0,
    'the zone',
  );
});

afterAll(async () => {
  await browser?.close();
  await service?.remove();
  await board?.stop();
});

test('shows what was learnt and what cannot be detected, and forgets it on request', async () => {
  const { page, complaints, close } = await browser.page({ viewport: DESKTOP });
  await page.goto(service.address);
  const known = page.getByTestId('heat-coverage');
  await known.locator('summary').click();
  await known.getByText('Learnt from its own heat-ups').waitFor();
  await known.getByText('A sensor whose error grows slowly').waitFor();
  expect(await stateFaults(page, 'what is known of the heat')).toEqual([]);

  await known.getByRole('button', { name: 'Learn the zones again' }).click();
  await page.getByText('Strandward learns again during the next full heat-up.').waitFor();
  await known.getByText('Learnt from its own heat-ups').waitFor({ state: 'detached' });
  await known.locator('dt', { hasText: 'Not learnt yet' }).waitFor();
  expect((await service.get<LiveState>('/api/state')).heat.learntZones).toEqual([]);
  expect(complaints).toEqual([]);
  await close();
});
