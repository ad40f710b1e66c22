/** The whole process stands still while lines wait in the kernel: a suspended machine, a debugger, a frozen container. */
import { afterEach, expect, it, vi } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { type RunningService, startService, until } from '../service/running-service.ts';
import { ScriptedBoard } from '../service/scripted-board.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 60_000 });

/** Longer than a line may be silent before its alarm, and than any pause that is no gap. */
const STOPPED_MS = 6000;

let board: ScriptedBoard;
let service: RunningService;
afterEach(async () => {
  service?.process.kill('SIGCONT');
  await service?.remove();
  await board?.stop();
});

const state = () => service.get<LiveState>('/api/state');

it.each([
  ['with', true],
  ['without', false],
] as const)(
  'measures all strand whose lines waited while the process was stopped, %s a clock',
  async (_what, counts) => {
    board = await new ScriptedBoard().start();
    board.measured.counts = counts;
    service = await startService({ source: board.source });
    await service.send('PUT', '/api/settings', { gaugeToWinderMm: 100 });
    await until(state, (s) => s.now.diameterMm !== null && s.link.phase === 'open', 'readings');
    await service.send('POST', '/api/stage', { stage: 'winding' });
    await until(state, (s) => (s.spool?.woundMm ?? 0) > 500, 'half a metre on the spool');

    const before = await state();
    const boardBefore = board.lengthMm;
    const readAllMm = (s: LiveState) => (s.now.gaugeMm ?? 0) - (before.now.gaugeMm ?? 0);
    service.process.kill('SIGSTOP');
    await new Promise((resolve) => setTimeout(resolve, STOPPED_MS));
    service.process.kill('SIGCONT');
    const stoppedMm = board.lengthMm - boardBefore;
    const after = await until(state, (s) => readAllMm(s) > stoppedMm + 200, 'the strand after it');
    // Both moments are known to some tenths of a second only.
    expect(Math.abs(readAllMm(after) - (board.lengthMm - boardBefore))).toBeLessThan(0.3 * 200);
    const { sections } = await service.get<SpoolDetail>(`/api/spools/${after.spool!.id}`);
    expect(sections.filter(({ kind, toGaugeMm }) => kind === 'unknown' && toGaugeMm > before.now.gaugeMm!)).toEqual([]);
    expect(after.alarms.filter(({ type }) => type === 'lineSilent')).toEqual([]);
    // The pause is in the log, and a second later what is not certain about it.
    const log = async () => JSON.stringify((await service.send('GET', '/api/log')).body);
    expect(await log()).toMatch(/stood still for [67] s/);
    if (counts) expect(await log()).not.toMatch(/times are not certain/);
    else await until(log, (text) => /readings had waited .* times are not certain/.test(text), 'what is not certain');
  },
);
