import { runCommand } from './run.ts';

/**
 * Run the command with the streams and signals of this process.
 * @returns the exit code
 */
export function simulate(args: readonly string[]): Promise<number> {
  const stop = new AbortController();
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.once(signal, () => stop.abort());
  return runCommand(args, { stdout: process.stdout, stderr: process.stderr, stop: stop.signal });
}
