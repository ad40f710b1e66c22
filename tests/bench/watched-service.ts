import { readFileSync } from 'node:fs';
import { type RunningService, type ServiceOptions, startService } from '../service/running-service.ts';
import { type Inside, PROBE_MARK } from './probe.ts';

/** Of Linux' /proc: processor time is counted in these. */
const TICKS_PER_S = 100;

/** The built service as a child process, with what it costs. */
export interface WatchedService extends RunningService {
  /** Processor time of all its threads so far, s. */
  cpuS(): number;
  /** Resident memory, MB. */
  rssMb(): number;
  inside(): Promise<Inside>;
}

/** Linux only: what a process costs is read from /proc. */
export async function startWatched(options: ServiceOptions): Promise<WatchedService> {
  const probe = new URL('./probe.js', import.meta.url).href;
  const env = { ...options.env, STRANDWARD_PROBE: '1', NODE_OPTIONS: `--import ${probe}` };
  const service = await startService({ ...options, env });
  const { pid } = service.process;
  const answers = () =>
    service
      .output()
      .split('\n')
      .filter((line) => line.startsWith(PROBE_MARK));
  return {
    ...service,
    cpuS() {
      // The name of the program is in brackets and may hold blanks.
      const stat = readFileSync(`/proc/${pid}/stat`, 'latin1');
      const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
      return (Number(fields[11]) + Number(fields[12])) / TICKS_PER_S;
    },
    rssMb() {
      const found = /VmRSS:\s+(\d+) kB/.exec(readFileSync(`/proc/${pid}/status`, 'latin1'))?.[1];
      return (Number(found) * 1024) / 1e6;
    },
    async inside() {
      const before = answers().length;
      service.process.kill('SIGUSR2');
      while (answers().length === before) await pause(5);
      return JSON.parse(answers()[before]!.slice(PROBE_MARK.length)) as Inside;
    },
  };
}

export const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));
