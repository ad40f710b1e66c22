/** The simulator as a command; `command/run.ts` does the work. */

import { runCommand } from './command/run.ts';

const stop = new AbortController();
for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.once(signal, () => stop.abort());

process.exitCode = await runCommand(process.argv.slice(2), {
  stdout: process.stdout,
  stderr: process.stderr,
  stop: stop.signal,
});
