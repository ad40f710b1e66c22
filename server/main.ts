#!/usr/bin/env node
/**
 * Composition root: settings → parts → start → orderly stop. The only place that knows every part.
 */
import { randomUUID } from 'node:crypto';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Logger, pino, stdTimeFunctions } from 'pino';
import { startApi } from './api/server.ts';
import { CutDesk } from './monitor/cut-desk.ts';
import { HouseDesk } from './monitor/house-desk.ts';
import { LengthDesk } from './monitor/length-desk.ts';
import { LineMonitor } from './monitor/line-monitor.ts';
import type { Log } from './monitor/log.ts';
import { PrinterDesk } from './monitor/printer-desk.ts';
import { RecordingDesk } from './monitor/recording-desk.ts';
import { SectionDesk } from './monitor/section-desk.ts';
import { SpoolAnalyst } from './monitor/spool-analyst.ts';
import { SteadyClock } from './monitor/steady-clock.ts';
import { Notifier } from './notify/notifier.ts';
import { readTrace } from './notify/picture/read-trace.ts';
import { messageOf, Problem } from './problem/problem.ts';
import { recordingRoom } from './recording/recording-thread.ts';
import { takeInRecording } from './recording/take-in-command.ts';
import { recoverLineSettings } from './settings/check-line-settings.ts';
import { type LogLevel, readStartup, type StartupSettings } from './settings/startup-settings.ts';
import { openSource } from './source/open-source.ts';
import { listSerialPorts } from './source/serial-ports.ts';
import { UnusableSource } from './source/unusable-source.ts';
import { openStore, restoreBackup } from './store/index.ts';

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
  const steady = new SteadyClock();
  const clock = () => steady.nowMs();

  const store = openStore({
    folder: startup.dataFolder,
    damaged: (damage) => log.error('A stored block of readings cannot be understood; it is shown as a gap', { damage }),
  });
  const { settings, problems } = recoverLineSettings(store.keeper.loadLineSettings());
  for (const problem of problems) log.warn(`A saved setting cannot be used. ${problem}`);
  const monitor = new LineMonitor({
    clock: steady,
    log,
    keeper: store.keeper,
    reader: store.reader,
    samples: store.samples,
    flushSamples: (nowMs) => store.tick(nowMs),
    diskFilling: (): string | null => house.diskFilling,
    openSource: (address) => openSource(address, clock),
    unusableSource: (problem) => new UnusableSource(problem),
    settings,
    fixedSource: startup.source,
    timeZone: Intl.DateTimeFormat().resolvedOptions().timeZone,
  });
  const house: HouseDesk = new HouseDesk({
    house: store.house,
    keeper: store.keeper,
    clock,
    log,
    settings: () => monitor.settings,
    backupFolder: startup.backupFolder ?? join(startup.dataFolder, 'backups'),
    scheduled: startup.backupFolder !== null,
  });
  const desk = new SectionDesk({
    keeper: store.keeper,
    reader: store.reader,
    clock,
    woundMm: (spool) => monitor.woundMm(spool),
    measured: (runId) => monitor.measuredSections(runId),
    changed: (runId) => monitor.sectionsStated(runId),
  });
  const words = store.spoolWords;
  const analyst = new SpoolAnalyst({
    reader: store.reader,
    samples: store.columns,
    words,
    settings: () => monitor.settings,
    woundMm: (spool) => monitor.woundMm(spool),
    measured: (runId) => monitor.measuredSections(runId),
  });
  const notifier = new Notifier({
    store: store.people,
    clock,
    log,
    timeZone: Intl.DateTimeFormat().resolvedOptions().timeZone,
    line: () => {
      const { settings, run, link, sentence, loudness, stage } = monitor.snapshot();
      const live = link.timing === 'live';
      return { name: settings.lineName, runId: run?.id ?? null, live, sentence, loudness, stage: stage.stage };
    },
    trace: (of) => readTrace(of, { reader: store.reader, samples: store.columns, limits: () => monitor.settings }),
    alarms: () => monitor.alarms.standing(),
    alarm: (id) => monitor.alarms.find(id),
    acknowledge: (id, name) => monitor.alarms.acknowledge(id, { name, from: 'a link in a message' }),
    tell: (what, who) => store.keeper.log({ timeMs: clock(), runId: monitor.snapshot().run?.id ?? null, who, what }),
  });
  monitor.subscribe({ alarms: (changes) => notifier.alarms(changes) });
  notifier.start();
  const recordings = new RecordingDesk({
    room: recordingRoom(),
    house: store.house,
    keeper: store.keeper,
    clock,
    log,
    settings: () => monitor.settings,
    timeZone: Intl.DateTimeFormat().resolvedOptions().timeZone,
  });
  const api = await startApi({
    monitor,
    people: notifier,
    desk,
    printers: new PrinterDesk({ keeper: store.keeper, words, clock, settings: () => monitor.settings }),
    cuts: new CutDesk({ keeper: store.keeper, words, clock }),
    lengths: new LengthDesk({ keeper: store.keeper, reader: store.reader, words, clock }),
    analyst,
    house,
    archives: store.house,
    recordings,
    keeper: store.keeper,
    reader: store.reader,
    samples: store.columns,
    clock,
    boot: randomUUID(),
    sourceFixed: startup.source !== null,
    listSerialPorts,
    access: { accessKey: startup.accessKey, host: startup.host },
    port: startup.port,
    pageFolder: PAGE_FOLDER,
    logger,
  });
  monitor.start();
  house.start();

  let stopping = false;
  const stop = async (why: string, exitCode: number) => {
    // Asked twice, or stuck in a port that does not close: what is written is safe, so end at once.
    if (stopping) process.exit(1);
    stopping = true;
    log.info(`Stopping: ${why}.`);
    setTimeout(() => process.exit(1), STOP_WITHIN_MS).unref();
    try {
      await api.stop();
      await recordings.stop();
      await analyst.stop();
      await monitor.stop();
      await notifier.stop();
      await house.stop();
      await store.close();
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
  process.stdout.write(`Strandward is watching. Open ${api.address}\n`);
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
