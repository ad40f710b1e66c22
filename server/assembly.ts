import type { Logger } from 'pino';
import { BrokerTexts, importantIn } from './api/broker-texts.ts';
import { FinishedSpools, readReportedUntil } from './api/finished-spools.ts';
import { KeyGuesses } from './api/key-guesses.ts';
import { frameReader } from './api/line-reader.ts';
import { liveView } from './api/live-view.ts';
import { RecordViews } from './api/record-views.ts';
import { type ApiServer, startApi } from './api/server.ts';
import { statedNames } from './certificate/house-names.ts';
import { openCertificate } from './certificate/open-certificate.ts';
import type { ServerCertificate } from './certificate/server-certificate.ts';
import type { DeviceRight } from './entities/device.ts';
import { readOtherLines } from './front/other-line.ts';
import { OtherLines } from './front/other-lines.ts';
import { IdentityService } from './identity/identity-service.ts';
import { openPairingSocket, type ReachableInvitation } from './identity/pairing-socket.ts';
import { reachableAddresses } from './identity/reachable-addresses.ts';
import { SpoolAnalyst } from './monitor/analysis/spool-analyst.ts';
import { BinService } from './monitor/bin-service.ts';
import { MonotonicClock } from './monitor/clock.ts';
import { diagnosis } from './monitor/diagnosis.ts';
import { ExampleNights } from './monitor/example-nights.ts';
import { outlookOf } from './monitor/line/outlook.ts';
import { createLineMonitor, type LineMonitor } from './monitor/line-monitor.ts';
import type { Log } from './monitor/log.ts';
import { logInRecord } from './monitor/log-in-record.ts';
import { MaintenanceService } from './monitor/maintenance-service.ts';
import { PipelineWatch } from './monitor/pipeline-watch.ts';
import { PrinterService } from './monitor/printer-service.ts';
import { RecordingService } from './monitor/recording-service.ts';
import { logDroppedReadings } from './monitor/run/dropped-readings.ts';
import { LineValues } from './monitor/run/line-values.ts';
import { LotService } from './monitor/run/lot-service.ts';
import { RelatedService } from './monitor/run/related-service.ts';
import { RunDateService } from './monitor/run/run-date-service.ts';
import { RunSummaries } from './monitor/run/run-summaries.ts';
import { logUnrecordedSignals } from './monitor/run/unrecorded-signals.ts';
import { CutService } from './monitor/spool/cut-service.ts';
import { DecisionService } from './monitor/spool/decision-service.ts';
import { LengthService } from './monitor/spool/length-service.ts';
import { SectionService } from './monitor/spool/section-service.ts';
import { SpoolBoundsService } from './monitor/spool/spool-bounds-service.ts';
import { SpoolJudge } from './monitor/spool/spool-judge.ts';
import { SpoolRepository } from './monitor/spool/spool-repository.ts';
import { WeighingService } from './monitor/spool/weighing-service.ts';
import { StockService } from './monitor/stock/stock-service.ts';
import { Notifier } from './notify/notifier.ts';
import { readTrace } from './notify/picture/read-trace.ts';
import { messageOf, type Problem } from './problem/problem.ts';
import { nightSimulator, recordingReplayer } from './recording/recording-replayer.ts';
import type { RecoveredSettings } from './settings/check-line-settings.ts';
import { isLoopback, type StartupSettings, usualBackupFolder } from './settings/startup-settings.ts';
import { listSerialPorts } from './source/serial-ports.ts';
import { scenarioNames } from './source/simulated-source.ts';
import type { Source } from './source/source.ts';
import { SourceOpener } from './source/source-opener.ts';
import { UnusableSource } from './source/unusable-source.ts';
import { STOP_CAN_BE_UNDONE_S } from './stage/stage.ts';
import { openStore, type Store } from './store/index.ts';
import { VERSION } from './version.ts';

/** What the service is assembled from. */
export interface AssemblyOptions {
  readonly startup: StartupSettings;
  /** Reads the settings of the line from the record. */
  readonly settings: (store: Store) => Omit<RecoveredSettings, 'problems'>;
  readonly timeZone: string;
  /** Identifies this start of the service, so that pages notice a restart. */
  readonly boot: string;
  readonly pageFolder: string;
  readonly log: Log;
  readonly logger: Logger;
  /** Overrides the configured source of reading lines. */
  readonly source?: Source;
  /** Lines come but are no longer processed: end the process, so that a supervisor starts it again. Called once. */
  readonly stalled?: (problem: Problem) => void;
  /** How long a stop set by a user can be undone; usually a minute. */
  readonly undoStopForMs?: number;
}

/** The assembled service, ready to watch. */
export interface Assembly {
  readonly store: Store;
  readonly monitor: LineMonitor;
  readonly notifier: Notifier;
  /** URL of the page. */
  readonly address: string;
  /** Where devices install the certificate of the house, and its fingerprint; null = they need none. */
  readonly certificatePage: string | null;
  readonly fingerprint: string | null;
  /** It listens beyond this machine, and there is neither a device nor a key that could use it. */
  readonly needsFirstDevice: boolean;
  /** For whoever controls the process or its terminal. */
  invite(right: DeviceRight): ReachableInvitation;
  /** Starts watching the line. */
  start(): void;
  /** Adds example nights if the line is simulated and there was never a run before this start. Call it after `start`. */
  makeExamples(): void;
  /** Stops in order: current work is finished and written before the record is closed. */
  stop(): Promise<void>;
}

/**
 * Assembles all parts and starts serving pages. The line is watched from `start` on.
 * @throws Problem if the record cannot be opened or the address is not available
 */
export async function assemble({ startup, timeZone, log, ...options }: AssemblyOptions): Promise<Assembly> {
  const monotonicClock = new MonotonicClock();
  const clock = () => monotonicClock.nowMs();
  const steadyClock = () => performance.now();
  const store: Store = openStore({
    folder: startup.dataFolder,
    backupFolder: startup.backupFolder ?? undefined,
    trouble: (what) => logInRecord(what, null, { writer, log, nowMs: clock() }),
    damaged: (damage) => log.error('A stored block of readings is damaged and shown as a gap', { damage }),
    unreadable: ({ table, row, why }) =>
      log.error('A row of the record cannot be read and is left out', { table, row, why }),
    dropped: (gap) => logDroppedReadings(gap, { writer, log, nowMs: clock() }),
    leftOut: (what) => logUnrecordedSignals(what, { writer, log, nowMs: clock() }),
  });
  const { writer, reader, spoolStatements: statements } = store;
  const guesses = new KeyGuesses(steadyClock, (address, count) => {
    const what = `${count} wrong keys or codes came from ${address}. Someone is guessing.`;
    logInRecord(what, null, { writer, log, nowMs: clock() });
  });
  if (store.updatedFrom !== null) {
    const what = `Version ${VERSION} changed the layout of the record. As it was before, it is kept in ${store.updatedFrom}.`;
    writer.log({ timeMs: clock(), runId: null, who: 'service', what });
    log.info(what);
  }
  const recovered = options.settings(store);
  const sources = new SourceOpener(clock, startup);
  await sources.ask(startup.source ?? recovered.settings.source);
  const monitor = createLineMonitor({
    clock: monotonicClock,
    log,
    writer,
    reader,
    samples: store.samples,
    columns: store.columns,
    flushSamples: (nowMs) => store.tick(nowMs),
    diskFilling: (): string | null => maintenance.diskFilling,
    recordDamage: (): string | null => maintenance.damage ?? notifier.damage,
    guessing: () => guesses.guessing(),
    askSource: (address) => sources.ask(address),
    openSource: (address, isFixed) => options.source ?? sources.open(address, isFixed),
    unusableSource: (problem, isFixed) => new UnusableSource(problem, isFixed),
    settings: recovered.settings,
    recovered,
    fixedSource: startup.source,
    timeZone,
    undoStopForMs: options.undoStopForMs ?? 1000 * STOP_CAN_BE_UNDONE_S,
  });
  // Open it before serving pages, so that the first requests can be answered.
  monitor.open();
  const settings = () => monitor.settings;
  const maintenance: MaintenanceService = new MaintenanceService({
    maintenance: store.maintenance,
    writer,
    clock,
    steadyClock,
    log,
    correctBinDates: () => bin.correctDates(),
    settings,
    backupFolder: startup.backupFolder ?? usualBackupFolder(startup.dataFolder),
    scheduled: startup.backupFolder !== null,
  });
  const spools = new SpoolRepository({
    reader,
    statements,
    settings,
    endGaugeMm: (spool) => monitor.endGaugeMm(spool),
    measuredSections: (runId) => monitor.measuredSections(runId),
  });
  const samples = store.columns;
  const analyst = new SpoolAnalyst(samples);
  const judge = new SpoolJudge({ spools, analyst, samples, statements, log, settings });
  const lineValues = new LineValues(samples, spools);
  const lots = new LotService({ reader, writer, spools, monitor, clock });
  const printers = new PrinterService({ writer, statements, clock, settings });
  const summaries = new RunSummaries({ spools, judge, reader, samples });
  const related = new RelatedService({ spools, judge, samples, analyst });
  const record = (who: string, what: string) =>
    void writer.log({ timeMs: clock(), runId: monitor.snapshot().run?.id ?? null, who, what });
  const brokerTexts = new BrokerTexts(() => monitor.settings.lineName);
  const notifier: Notifier = new Notifier({
    store: store.people,
    clock,
    steadyClock,
    log,
    timeZone,
    line: () => {
      const { settings, run, link, stage } = monitor.snapshot();
      const live = link.timing === 'live';
      return { name: settings.lineName, runId: run?.id ?? null, live, firstReadyMs: stage.firstReadyMs };
    },
    status: () => {
      const state = liveView(monitor, options.boot, notifier.troubles());
      return { atMs: clock(), important: importantIn(state), json: () => brokerTexts.state(state) };
    },
    writeAlarmStep: (change, key) => brokerTexts.alarmStep(change, key),
    outlook: () => outlookOf(monitor.snapshot()),
    trace: (of) => readTrace(of, { reader, samples: store.columns, limits: settings }),
    alarm: (id) => monitor.alarms.find(id),
    acknowledge: (id, name) => monitor.alarms.acknowledge(id, { name, from: 'a link in a message' }),
    recordAction: (what, who) => record(who, what),
  });
  monitor.subscribe({ alarms: (changes) => notifier.alarms(changes) });
  const finishedSpools = new FinishedSpools({
    reader,
    judge,
    clock,
    log,
    texts: brokerTexts,
    windingSpoolId: () => monitor.snapshot().spool?.id ?? null,
    isWanted: () => notifier.hasBroker,
    load: () => store.people.secret('spools reported', readReportedUntil),
    save: (untilMs) => store.people.keepSecret('spools reported', String(untilMs)),
    report: (spool) => notifier.spoolFinished(spool),
  });
  const recordings = new RecordingService({
    replayer: recordingReplayer(),
    maintenance: store.maintenance,
    writer,
    clock,
    log,
    settings,
    timeZone,
  });
  const examples = new ExampleNights({
    simulator: nightSimulator(),
    maintenance: store.maintenance,
    writer,
    clock,
    log,
    settings,
    timeZone,
    isSimulated: () => monitor.snapshot().link.playback?.what === 'simulation',
    changed: () => monitor.spoolChanged(),
  });
  const isFirstStart = !reader.hasHadRuns();
  notifier.start();
  const pipelineWatch = new PipelineWatch();
  const changed = () => monitor.spoolChanged();
  const runDates = new RunDateService({ reader, writer, alarms: monitor.alarms, spools, clock, changed });
  void runDates.resume().catch((thrown) => log.warn(`A run could not be moved to its date: ${messageOf(thrown)}`));
  const views = new RecordViews({ spools, judge, reader, samples, monitor, runDates });
  const sectionsChanged = (runId: number) => monitor.sectionsChanged(runId);
  const sections = new SectionService({ writer, reader, judge, clock, changed: sectionsChanged });
  const decisions = new DecisionService({ writer, spools, alarms: monitor.alarms, clock, changed: sectionsChanged });
  const printer = (id: number) => printers.find(id);
  const cuts = new CutService({ writer, statements, spools, judge, clock, printer, changed });
  const stock = new StockService({ reader, writer, statements, spools, judge, clock, printer, changed });
  const lengths = new LengthService({ writer, statements, clock, changed });
  const weighings = new WeighingService({ writer, statements, clock, changed });
  const bounds = new SpoolBoundsService({ monitor, spools, analyst, writer, reader, samples, clock });
  const bin = new BinService({ reader, writer, spools, clock, steadyClock, changed });
  const identity = new IdentityService({
    store: store.identity,
    clock,
    steadyClock,
    accessKey: startup.accessKey,
    record,
    warn: (message, facts) => log.warn(message, facts),
  });
  identity.open();
  const phonesPaired = (replaced: readonly [number, number] | null) =>
    notifier
      .devicesChanged(new Set(identity.list('device').map(({ id }) => id)), replaced)
      .catch((thrown) => log.warn(`The channel of a removed device could not be removed: ${messageOf(thrown)}`));
  identity.onChange((id, held, successor) => {
    if (held === null) void phonesPaired(successor === null ? null : [id, successor]);
  });
  // What a stop or a full disk kept from being removed.
  void phonesPaired(null);
  const addresses = (): readonly string[] =>
    reachableAddresses({
      host: startup.host,
      port: Number(new URL(api.address).port),
      https: startup.https !== null,
      pageAddress: notifier.overview().rules.pageAddress,
    });
  const certificate: ServerCertificate | null =
    startup.https === null
      ? null
      : await openCertificate(startup.https, {
          clock: Date.now,
          statedNames: () => statedNames(startup.host, notifier.overview().rules.pageAddress),
          info: (message, facts) => log.info(message, facts),
          warn: (message, facts) => log.warn(message, facts),
        });
  const certificatePage = (): string | null => {
    const [best = api.address] = addresses();
    // By HTTP, because before it is installed HTTPS only works with a warning.
    return certificate?.authority ? `${best.replace(/^https:/, 'http:')}/certificate` : null;
  };
  const others = new OtherLines({
    load: () => store.people.secret('other-lines', readOtherLines),
    save: (json) => store.people.keepSecret('other-lines', json),
    readFrame: frameReader(),
    authority: () => certificate?.authority?.pem ?? null,
    recordAction: record,
  });
  const api: ApiServer = await startApi({
    others,
    live: { monitor, samples, boot: options.boot, troubles: () => notifier.troubles() },
    alarms: { alarms: monitor.alarms, settings },
    alarmJournal: { spools, reader, clock },
    runs: { views, spools, samples, writer, lots, runDates, related, clock },
    nights: { views, spools, lineValues, analyst },
    spools: { views, spools, sections, decisions, bounds, writer, monitor, clock },
    bin,
    printers,
    people: notifier,
    judgement: { spools, judge, lengths, weighings, monitor, samples },
    comparison: { spools, summaries, printers, clock },
    cutPlan: { judge, cuts, statements },
    stock,
    labels: { reader, spools, judge, printers, pageAddress: () => notifier.overview().rules.pageAddress },
    exports: { spools, samples },
    setUp: {
      monitor,
      reader,
      fixedSource: startup.source,
      scenarios: scenarioNames,
      standsForMs: () => pipelineWatch.standsForMs,
      listSerialPorts,
    },
    maintenance: { maintenance, archives: store.maintenance, spools, writer, clock, settings },
    recording: { recordings, disk: store.maintenance, clock, settings },
    devices: { identity, guesses, addresses, certificatePage },
    certificate,
    trustedProxies: startup.trustedProxies,
    host: startup.host,
    port: startup.port,
    pageFolder: options.pageFolder,
    timeZone,
    logger: options.logger,
  });
  const invite = (right: DeviceRight): ReachableInvitation => ({
    ...identity.invite(right, 'the command line'),
    addresses: addresses(),
    isForThisMachine: isLoopback(startup.host),
    certificatePage: certificatePage(),
    ownAddress: `http://127.0.0.1:${new URL(api.address).port}`,
  });
  const closePairingSocket = await openPairingSocket({
    dataFolder: startup.dataFolder,
    invite,
    diagnose: () =>
      diagnosis({
        version: VERSION,
        nowMs: clock(),
        dataFolder: startup.dataFolder,
        store,
        line: monitor.snapshot(),
        failing: notifier.failing(),
      }),
    warn: (message, facts) => log.warn(message, facts),
  });
  return {
    store,
    monitor,
    notifier,
    address: api.address,
    certificatePage: certificatePage(),
    fingerprint: certificate?.authority?.fingerprint ?? null,
    needsFirstDevice: !isLoopback(startup.host) && !identity.hasAccessKey && identity.list('device').length === 0,
    invite,
    start: () => {
      monitor.start();
      others.start();
      maintenance.start();
      finishedSpools.start();
      pipelineWatch.start(
        () => monitor.progress,
        (problem) => options.stalled?.(problem),
      );
    },
    makeExamples: () => {
      if (isFirstStart) examples.make();
    },
    stop: async () => {
      pipelineWatch.stop();
      finishedSpools.stop();
      closePairingSocket();
      certificate?.stop();
      others.stop();
      await api.stop();
      // Work on threads is cancelled first, but awaited only after the readings of the line are safe.
      const workStopped = Promise.all([recordings.stop(), examples.stop(), analyst.stop()]);
      await monitor.stop();
      await notifier.stop();
      await maintenance.stop();
      await workStopped;
      await store.close();
    },
  };
}
