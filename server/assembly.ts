import type { Logger } from 'pino';
import { RecordViews } from './api/record-views.ts';
import { startApi } from './api/server.ts';
import { SpoolAnalyst } from './monitor/analysis/spool-analyst.ts';
import { tellLeftOut } from './monitor/channels-left-out.ts';
import { LineMonitor } from './monitor/line-monitor.ts';
import type { Log } from './monitor/log.ts';
import { MaintenanceService } from './monitor/maintenance-service.ts';
import { PrinterService } from './monitor/printer-service.ts';
import { RecordingService } from './monitor/recording-service.ts';
import { RunSummaries } from './monitor/run-summaries.ts';
import { CutService } from './monitor/spool/cut-service.ts';
import { LengthService } from './monitor/spool/length-service.ts';
import { SectionService } from './monitor/spool/section-service.ts';
import { SpoolBoundsService } from './monitor/spool/spool-bounds-service.ts';
import { SpoolJudge } from './monitor/spool/spool-judge.ts';
import { SpoolRepository } from './monitor/spool/spool-repository.ts';
import { SteadyClock } from './monitor/steady-clock.ts';
import { Notifier } from './notify/notifier.ts';
import { readTrace } from './notify/picture/read-trace.ts';
import { recordingReplayer } from './recording/recording-replayer.ts';
import type { LineSettings } from './settings/line-settings.ts';
import { type StartupSettings, usualBackupFolder } from './settings/startup-settings.ts';
import { openSource } from './source/open-source.ts';
import { listSerialPorts } from './source/serial-ports.ts';
import { scenarioNames } from './source/simulated-source.ts';
import type { Source } from './source/source.ts';
import { UnusableSource } from './source/unusable-source.ts';
import { openStore, type Store } from './store/index.ts';

/** The service is put together from this. */
export interface Plan {
  readonly startup: StartupSettings;
  /** How the line is set, read from the record. */
  readonly settings: (store: Store) => LineSettings;
  readonly timeZone: string;
  /** A name of this start, by which a page knows that the service was started anew. */
  readonly boot: string;
  readonly pageFolder: string;
  readonly log: Log;
  readonly logger: Logger;
  /** Where reading lines come from, if not from the address that is set. */
  readonly source?: Source;
}

/** The service as it stands, ready to watch. */
export interface Assembly {
  readonly store: Store;
  readonly monitor: LineMonitor;
  readonly notifier: Notifier;
  /** Of the page. */
  readonly address: string;
  /** Begin to watch the line. */
  start(): void;
  /** In order: what is under way is finished and written before its record is closed. */
  stop(): Promise<void>;
}

/**
 * Puts every part together, and opens the door for pages; the line is watched from `start` on.
 * @throws Problem where the record cannot be opened or the address cannot be had
 */
export async function assemble({ startup, timeZone, log, ...plan }: Plan): Promise<Assembly> {
  const steady = new SteadyClock();
  const clock = () => steady.nowMs();
  const store: Store = openStore({
    folder: startup.dataFolder,
    damaged: (damage) => log.error('A stored block of readings cannot be understood; it is shown as a gap', { damage }),
    leftOut: (what) => tellLeftOut(what, { writer, log, nowMs: clock() }),
  });
  const { writer, reader, spoolStatements: statements } = store;
  const monitor = new LineMonitor({
    clock: steady,
    log,
    writer,
    reader,
    samples: store.samples,
    columns: store.columns,
    flushSamples: (nowMs) => store.tick(nowMs),
    diskFilling: (): string | null => maintenance.diskFilling,
    openSource: (address) => plan.source ?? openSource(address, clock),
    unusableSource: (problem) => new UnusableSource(problem),
    settings: plan.settings(store),
    fixedSource: startup.source,
    timeZone,
  });
  // Before the door is opened, so that whoever comes in at once is answered.
  monitor.open();
  const settings = () => monitor.settings;
  const maintenance: MaintenanceService = new MaintenanceService({
    maintenance: store.maintenance,
    writer,
    clock,
    log,
    settings,
    backupFolder: startup.backupFolder ?? usualBackupFolder(startup.dataFolder),
    scheduled: startup.backupFolder !== null,
  });
  const spools = new SpoolRepository({
    reader,
    statements,
    settings,
    woundMm: (spool) => monitor.woundMm(spool),
    measured: (runId) => monitor.measuredSections(runId),
  });
  const samples = store.columns;
  const analyst = new SpoolAnalyst(samples);
  const judge = new SpoolJudge({ spools, analyst, samples, statements, log, settings });
  const printers = new PrinterService({ writer, statements, clock, settings });
  const summaries = new RunSummaries({ spools, judge, reader, samples });
  const notifier = new Notifier({
    store: store.people,
    clock,
    log,
    timeZone,
    line: () => {
      const { settings, run, link, sentence, severity, stage } = monitor.snapshot();
      const live = link.timing === 'live';
      return { name: settings.lineName, runId: run?.id ?? null, live, sentence, severity, stage: stage.stage };
    },
    trace: (of) => readTrace(of, { reader, samples: store.columns, limits: settings }),
    alarms: () => monitor.alarms.standing(),
    alarm: (id) => monitor.alarms.find(id),
    acknowledge: (id, name) => monitor.alarms.acknowledge(id, { name, from: 'a link in a message' }),
    tell: (what, who) => writer.log({ timeMs: clock(), runId: monitor.snapshot().run?.id ?? null, who, what }),
  });
  monitor.subscribe({ alarms: (changes) => notifier.alarms(changes) });
  const recordings = new RecordingService({
    replayer: recordingReplayer(),
    maintenance: store.maintenance,
    writer,
    clock,
    log,
    settings,
    timeZone,
  });
  notifier.start();
  const views = new RecordViews({ spools, judge, reader, samples, monitor });
  const sections = new SectionService({ writer, reader, judge, clock, changed: (id) => monitor.sectionsStated(id) });
  const cuts = new CutService({
    writer,
    statements,
    spools,
    judge,
    clock,
    printer: (id) => printers.find(id),
    changed: () => monitor.spoolSaid(),
  });
  const lengths = new LengthService({ writer, reader, statements, clock, changed: () => monitor.spoolSaid() });
  const bounds = new SpoolBoundsService({ monitor, spools, analyst, writer, reader, samples, clock });
  const disk = store.maintenance;
  const api = await startApi({
    live: { monitor, samples, boot: plan.boot, troubles: () => notifier.troubles() },
    alarms: { alarms: monitor.alarms, settings },
    alarmJournal: { spools, reader, clock },
    runs: { views, spools, samples, writer, monitor, clock },
    spools: { views, spools, sections, bounds, writer, monitor, clock },
    printers,
    people: notifier,
    judgement: { spools, judge, lengths, monitor, samples },
    comparison: { spools, summaries, printers, clock },
    cutPlan: { judge, cuts },
    exports: { spools, samples },
    setUp: { monitor, reader, fixedSource: startup.source, scenarios: scenarioNames, listSerialPorts },
    maintenance: { maintenance, archives: disk, spools, writer, clock, settings },
    recording: { recordings, disk, clock, settings },
    access: { accessKey: startup.accessKey, host: startup.host },
    port: startup.port,
    pageFolder: plan.pageFolder,
    logger: plan.logger,
  });
  return {
    store,
    monitor,
    notifier,
    address: api.address,
    start: () => {
      monitor.start();
      maintenance.start();
    },
    stop: async () => {
      await api.stop();
      // The line comes first: what is made of a recorded log is told to stop, and waited for when the readings are safe.
      const dropped = recordings.stop();
      await analyst.stop();
      await monitor.stop();
      await notifier.stop();
      await maintenance.stop();
      await dropped;
      await store.close();
    },
  };
}
