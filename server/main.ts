#!/usr/bin/env -S node --max-semi-space-size=1 --heap-growing-percent=10
/**
 * Composition root: settings → parts (`assembly.ts`) → start → orderly stop.
 */
import { randomUUID } from 'node:crypto';
import { fileURLToPath } from 'node:url';
import { type Logger, pino, stdTimeFunctions } from 'pino';
import { assemble } from './assembly.ts';
import type { Log } from './monitor/log.ts';
import { messageOf, Problem } from './problem/problem.ts';
import { takeInRecording } from './recording/take-in-command.ts';
import { recoverLineSettings } from './settings/check-line-settings.ts';
import { type LogLevel, readStartup, type StartupSettings } from './settings/startup-settings.ts';
import { restoreBackup } from './store/index.ts';

const STOP_WITHIN_MS = 10_000;
const PAGE_FOLDER = fileURLToPath(new URL('../web/', import.meta.url));

async function main(): Promise<void> {
  const request = readStartup(process.argv.slice(2), process.env);
  if (request.kind === 'help') {
    process.stdout.write(`${request.text}\n`);
    return;
  }
  if (request.kind === 'restore') {
    const old = restoreBackup(request.dataFolder, request.backup, Date.now());
    process.stdout.write(`Restored ${request.backup} into ${request.dataFolder}.\n`);
    if (old !== null) process.stdout.write(`The record that was there is kept as ${old}.\n`);
    return;
  }
  if (request.kind === 'takeIn') {
    const runs = await takeInRecording(request, (line) => process.stderr.write(`${line}\n`));
    process.stdout.write(`Took in ${request.file} as run ${runs.join(', ')}.\n`);
    return;
  }
  await run(request.settings);
}

async function run(startup: StartupSettings): Promise<void> {
  const logger = makeLogger(startup.logLevel);
  const log = logTo(logger);
  const service = await assemble({
    startup,
    settings: ({ keeper }) => {
      const { settings, problems } = recoverLineSettings(keeper.loadLineSettings());
      for (const problem of problems) log.warn(`A saved setting cannot be used. ${problem}`);
      return settings;
    },
    timeZone: Intl.DateTimeFormat().resolvedOptions().timeZone,
    boot: randomUUID(),
    pageFolder: PAGE_FOLDER,
    log,
    logger,
  });
  service.start();

  let stopping = false;
  const stop = async (why: string, exitCode: number) => {
    // Asked twice, or stuck in a port that does not close: what is written is safe, so end at once.
    if (stopping) process.exit(1);
    stopping = true;
    log.info(`Stopping: ${why}.`);
    setTimeout(() => process.exit(1), STOP_WITHIN_MS).unref();
    try {
      await service.stop();
    } catch (thrown) {
      log.error('The stop was not clean', { why: messageOf(thrown) });
      process.exitCode = 1;
    }
    process.exitCode ??= exitCode;
    // What was logged is out: the destination is synchronous.
    process.exit();
  };
  process.on('SIGINT', () => stop('interrupted', 0));
  process.on('SIGTERM', () => stop('asked to end', 0));
  process.on('uncaughtException', (thrown) => {
    logger.fatal({ err: thrown }, 'A fault that nobody caught');
    void stop('a fault that nobody caught', 1);
  });
  // Last, so that whoever reads it may already ask for the end.
  process.stdout.write(`Strandward is watching. Open ${service.address}\n`);
}

function makeLogger(level: LogLevel): Logger {
  // Written at once, so that the last lines before an exit are not lost.
  return pino({ level, base: null, timestamp: stdTimeFunctions.isoTime }, pino.destination({ dest: 1, sync: true }));
}

function logTo(logger: Logger): Log {
  return {
    info: (message, facts) => logger.info(facts ?? {}, message),
    warn: (message, facts) => logger.warn(facts ?? {}, message),
    error: (message, facts) => logger.error(facts ?? {}, message),
  };
}

main().catch((thrown: unknown) => {
  if (thrown instanceof Problem) {
    console.error(`strandward: ${thrown.message}\n${thrown.remedy}`);
    process.exit(thrown.exitCode);
  }
  console.error(thrown);
  process.exit(1);
});
