import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { type RunningService, startService, until } from './running-service.ts';

/** The service with a recorded evening, back when all of it is wound: a run that was read from a recording ends with it. */
export async function windRecording(lines: Iterable<string>): Promise<RunningService> {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-recording-'));
  const log = join(folder, 'evening.log');
  writeFileSync(log, [...lines].join('\n'));
  const service = await startService({ source: `file:${log}?pace=max`, args: ['--log', 'warn'] });
  const remove = async () => {
    await service.remove();
    rmSync(folder, { recursive: true, force: true });
  };
  const state = () => service.get<LiveState>('/api/state');
  await until(state, (s) => s.link.phase === 'ended' && s.run === null, 'the recording to be wound', 60_000).catch(
    async (thrown: unknown) => {
      await remove();
      throw thrown;
    },
  );
  return { ...service, remove };
}
