/** Settings of the line that are damaged or missing in the record of a real line: that line is watched on, or none, but never a simulated one. */
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { afterEach, beforeEach, expect, it } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { casesOf } from '../long-check.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { ScriptedBoard } from '../service/scripted-board.ts';

let board: ScriptedBoard;
let dataFolder: string;
let service: RunningService | null = null;

beforeEach(async () => {
  board = await new ScriptedBoard().start();
  dataFolder = newDataFolder();
});
afterEach(async () => {
  await service?.remove();
  await board.stop();
});

const start = async (): Promise<RunningService> => {
  service = await startService({ dataFolder });
  return service;
};
const state = () => service!.get<LiveState>('/api/state');
const runs = () => service!.get<RunView[]>('/api/runs');
const save = (settings: object) => service!.send('PUT', '/api/settings', settings);
const winding = () =>
  until(
    state,
    ({ run, stage, link }) => run !== null && stage.stage === 'winding' && link.phase === 'open',
    'the board’s strand to be wound',
  );
const ready = async () => (await service!.send('GET', '/ready')).status;

/** Winds strand of the board, whose address was set on the page, and stops the service. @returns the run */
async function woundBefore(): Promise<number> {
  await start();
  expect((await save({ source: board.source, soakMin: 0, settleLengthMm: 200 })).status).toBe(200);
  const { run } = await winding();
  expect((await save({ lineName: 'Loft' })).status).toBe(200);
  expect((await save({ lineName: 'Attic' })).status).toBe(200);
  await service!.stop();
  return run!.id;
}

function damage(sql: string): void {
  const db = new Sqlite(join(dataFolder, DATABASE_FILE));
  db.exec(sql);
  db.close();
}
const NEWEST = '(SELECT max(version) FROM line_settings)';

it.each(casesOf([`'{"lineName":'`, `'[]'`, `'{}'`], 1))(
  'watches the same line by the settings before those saved last, which are %s',
  async (payload) => {
    const runId = await woundBefore();
    damage(`UPDATE line_settings SET payload = ${payload} WHERE version = ${NEWEST}`);
    await start();
    const now = await winding();
    expect([now.run!.id, now.lineName]).toStrictEqual([runId, 'Loft']);
    expect(now.link.sourceTitle).toContain('TCP');
    expect(now.settingsProblem).toMatch(/saved last could not be read\. Those saved on \d+ \w+ \d{4}, \d\d:\d\d/);
    expect(now.settingsProblem).toContain(board.source);
    await expect.poll(ready).toBe(200);
    // Saved again by a user, they are the newest.
    expect((await save({ lineName: 'Loft' })).status).toBe(200);
    expect((await state()).settingsProblem).toBeNull();
    await service!.stop();
    await start();
    expect((await state()).settingsProblem).toBeNull();
  },
);

const LOST = [
  ['no version can be read', `UPDATE line_settings SET payload = '{"lineName":'`],
  ['no settings were ever saved', 'DELETE FROM line_settings'],
  ['only the source cannot be read', `UPDATE line_settings SET payload = json_set(payload, '$.source', 7)`],
  ['the source is missing', `UPDATE line_settings SET payload = json_remove(payload, '$.source')`],
] as const;
it.each(casesOf(LOST, 2))(
  'starts no simulated line where %s, and goes on with the run once the source is chosen',
  async (_, sql) => {
    const runId = await woundBefore();
    damage(sql);
    await start();
    const lost = await until(state, ({ alarms }) => alarms.length > 0, 'an alarm');
    expect(lost.alarms).toMatchObject([{ type: 'lineSilent' }]);
    expect([lost.severity, lost.link.phase, lost.link.playback]).toStrictEqual(['danger', 'waiting', null]);
    expect(lost.alarms[0]!.sentence).toContain('No source');
    expect(lost.settingsProblem).toContain(`through: TCP 127.0.0.1:${board.port}`);
    expect(await ready()).toBe(503);
    expect((await runs()).map(({ id, endedMs }) => [id, endedMs])).toStrictEqual([[runId, null]]);

    // What else is saved meanwhile must not choose the simulator at the next start.
    expect((await save({ lineName: 'Cellar' })).status).toBe(200);
    await service!.stop();
    await start();
    expect((await state()).link).toMatchObject({ phase: 'waiting', playback: null });

    expect((await save({ source: board.source, soakMin: 0, settleLengthMm: 200 })).status).toBe(200);
    const after = await winding();
    expect([after.run!.id, after.settingsProblem]).toStrictEqual([runId, null]);
    await expect.poll(ready).toBe(200);
    expect(await runs()).toHaveLength(1);
  },
);

it('does not say that the line is not watched while its source is given on the command line', async () => {
  await woundBefore();
  damage(`UPDATE line_settings SET payload = 'x'`);
  service = await startService({ dataFolder, source: board.source });
  const { settingsProblem } = await winding();
  expect(settingsProblem).toContain('All have their defaults');
  expect(settingsProblem).not.toContain('not watched');
});

it('ends the run if another source is chosen', async () => {
  const runId = await woundBefore();
  damage(`UPDATE line_settings SET payload = 'x'`);
  await start();
  expect((await state()).run?.id).toBe(runId);
  expect((await save({ source: 'simulator:steady' })).status).toBe(200);
  const all = await until(runs, (list) => list.every(({ id, endedMs }) => id !== runId || endedMs !== null), 'the end');
  expect(all.find(({ id }) => id === runId)!.endedMs).not.toBeNull();
});

it('still simulates a line where none but a simulated one was ever watched', async () => {
  await start();
  expect((await save({ source: 'simulator:steady', lineName: 'Loft' })).status).toBe(200);
  await until(state, ({ run }) => run !== null, 'a run');
  await service!.stop();
  damage(`UPDATE line_settings SET payload = 'x'`);
  await start();
  expect((await state()).link.playback).toMatchObject({ kind: 'simulation' });
});
