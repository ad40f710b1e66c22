import { type Cutting, cuttingOf } from '../monitor/analysis/cutting-of.ts';
import { asDoneCut, type CutDesk } from '../monitor/cut-desk.ts';
import { knownRun, knownSpool } from '../monitor/known.ts';
import { type LengthDesk, lengthScaleOf } from '../monitor/length-desk.ts';
import type { LineMonitor } from '../monitor/line-monitor.ts';
import type { RecordReader, Run, SampleReader, Spool } from '../monitor/ports.ts';
import { runSettingsNow, type SpoolSettings, settingsOf } from '../monitor/run-settings.ts';
import type { SectionDesk } from '../monitor/section-desk.ts';
import type { Section } from '../strand/section.ts';
import type { RunDetail, RunView, SpoolDetail, SpoolView } from './contract.ts';
import {
  alarmView,
  limitsView,
  type NowAtGauge,
  runView,
  type SpoolRange,
  sectionsOn,
  sectionView,
  spoolView,
} from './views.ts';

/** How many columns the mean diameter of a whole spool is taken over; a column's mean is exact. */
const MEAN_COLUMNS = 64;
const LOG_LINES = 500;

interface Overview {
  readonly view: RunView;
  readonly spools: SpoolView[];
  readonly ranges: readonly SpoolRange[];
}

/** Answers about runs and spools, put together from the record and, for what is running, from the monitor. */
export class RecordViews {
  readonly #ended = new Map<number, { readonly version: string; readonly overview: Overview }>();
  readonly #reader: RecordReader;
  readonly #samples: SampleReader;
  readonly #monitor: LineMonitor;
  readonly #desk: SectionDesk;
  readonly #lengths: LengthDesk;
  readonly #cuts: CutDesk;

  constructor(parts: {
    readonly reader: RecordReader;
    readonly samples: SampleReader;
    readonly monitor: LineMonitor;
    readonly desk: SectionDesk;
    readonly lengths: LengthDesk;
    readonly cuts: CutDesk;
  }) {
    this.#reader = parts.reader;
    this.#samples = parts.samples;
    this.#monitor = parts.monitor;
    this.#desk = parts.desk;
    this.#lengths = parts.lengths;
    this.#cuts = parts.cuts;
  }

  async runs(): Promise<RunView[]> {
    return Promise.all(this.#reader.runs().map(async (run) => (await this.#overview(run)).view));
  }

  async run(runId: number): Promise<RunDetail> {
    const run = this.runOrProblem(runId);
    const { view, spools, ranges } = await this.#overview(run);
    const now = this.#now(runId);
    const sections = this.#desk.sections(runId);
    const extent = await this.#samples.extent(runId);
    return {
      run: view,
      spools,
      limits: limitsView(this.#settingsOfRun(runId).limits),
      sections: ranges.flatMap((on) => sectionsOn(sections, on).map((section) => sectionView(section, on, now))),
      extent: extent === null ? null : { ...extent, channels: [...extent.channels] },
      alarms: this.#reader.alarmJournal(runId).map(({ timeMs, what, by, from, why, alarm }) => ({
        timeMs,
        what,
        by,
        from,
        why,
        alarm: alarmView(alarm),
      })),
      log: this.#reader.logEntries({ runId, limit: LOG_LINES }).map(({ timeMs, who, what }) => ({ timeMs, who, what })),
    };
  }

  async spool(spoolId: number): Promise<SpoolDetail> {
    const on = this.range(this.spoolOrProblem(spoolId));
    const run = this.runOrProblem(on.spool.runId);
    const now = this.#now(run.id);
    const sections = sectionsOn(this.#desk.sections(run.id), on);
    return {
      spool: await this.#spoolView(on),
      run: (await this.#overview(run)).view,
      sections: sections.map((section) => sectionView(section, on, now)),
    };
  }

  /** The strand on a spool, as far as it is wound now. Here every length of a spool gets its scale. */
  range(spool: Spool): SpoolRange {
    const next = this.#reader.spools(spool.runId).find(({ ordinal }) => ordinal === spool.ordinal + 1);
    return {
      spool,
      endGaugeMm: spool.startGaugeMm + this.#monitor.woundMm(spool),
      reachGaugeMm: next?.startGaugeMm ?? Number.POSITIVE_INFINITY,
      lengthFactor: lengthScaleOf(this.#lengths.of(spool.id)).factor,
    };
  }

  /** What a spool was wound under. */
  settingsOn({ spool, endGaugeMm }: SpoolRange): SpoolSettings {
    const kept = this.#reader.runSettings(spool.runId);
    return settingsOf(spool, endGaugeMm, kept, runSettingsNow(this.#monitor.settings, 0));
  }

  #settingsOfRun(runId: number): SpoolSettings {
    const kept = this.#reader.runSettings(runId);
    return settingsOf({ startGaugeMm: 0 }, Number.POSITIVE_INFINITY, kept, runSettingsNow(this.#monitor.settings, 0));
  }

  /** @throws Problem `unknown-run` */
  runOrProblem(runId: number): Run {
    return knownRun(this.#reader, runId);
  }

  /** @throws Problem `unknown-spool` */
  spoolOrProblem(spoolId: number): Spool {
    return knownSpool(this.#reader, spoolId);
  }

  /** A run that has ended changes only by what people say of it, so a year of nights need not be added up at each look. */
  async #overview(run: Run): Promise<Overview> {
    if (run.endedMs === null) return this.#addUp(run);
    const said = this.#reader.statedSections(run.id);
    const ofSpools = this.#reader.spools(run.id).map(({ id, startGaugeMm, endGaugeMm, note }) => {
      const cuts = this.#cuts.cuts(id).map((cut) => cut.id);
      return [id, startGaugeMm, endGaugeMm, note, this.#lengths.of(id), cuts];
    });
    const { nominalMm, densityGPerCm3, shortestCoilMm } = this.#monitor.settings;
    const version = JSON.stringify([
      [run.note, run.lot, ofSpools, said.length, said.at(-1)?.id],
      [nominalMm, densityGPerCm3, shortestCoilMm],
    ]);
    const known = this.#ended.get(run.id);
    if (known?.version === version) return known.overview;
    const overview = await this.#addUp(run);
    this.#ended.set(run.id, { version, overview });
    return overview;
  }

  async #addUp(run: Run): Promise<Overview> {
    const ranges = this.#reader.spools(run.id).map((spool) => this.range(spool));
    const sections = this.#desk.sections(run.id);
    const spools = await Promise.all(ranges.map((on) => this.#spoolView(on)));
    const onSpools = ranges.flatMap((on) => sectionsOn(sections, on));
    const raised = this.#reader.alarmJournal(run.id).filter((entry) => entry.what === 'raised').length;
    return { view: runView(run, spools, onSpools, raised), spools, ranges };
  }

  async #spoolView(on: SpoolRange): Promise<SpoolView> {
    const { spool } = on;
    const settings = this.settingsOn(on);
    const meanDiameterMm = (await this.#meanDiameterMm(on)) ?? settings.limits.nominalMm;
    const sections = sectionsOn(this.#desk.sections(spool.runId), on);
    return spoolView(on, sections, meanDiameterMm, settings, this.#cutting(on, sections));
  }

  #cutting(on: SpoolRange, sections: readonly Section[]): Cutting {
    const { spool } = on;
    return cuttingOf(
      sections,
      { ...on, startGaugeMm: spool.startGaugeMm, lengthShare: lengthScaleOf(this.#lengths.of(spool.id)).share },
      this.#monitor.settings.shortestCoilMm,
      this.#cuts.cuts(spool.id).map(asDoneCut),
    );
  }

  async #meanDiameterMm(on: SpoolRange): Promise<number | null> {
    const window = await this.#samples.window({
      runId: on.spool.runId,
      axis: 'length',
      from: on.spool.startGaugeMm,
      to: Math.max(on.endGaugeMm, on.spool.startGaugeMm + 1),
      columns: MEAN_COLUMNS,
      channels: ['d'],
    });
    const means = (window.channels.d?.mean ?? []).filter((mean): mean is number => mean !== null);
    return means.length === 0 ? null : means.reduce((a, b) => a + b, 0) / means.length;
  }

  #now(runId: number): NowAtGauge | null {
    const { run, last, gaugeToWinderMm } = this.#monitor.snapshot();
    if (run?.id !== runId || last === null) return null;
    return {
      gaugeMm: last.gaugeMm,
      speedMmPerS: last.speedMmPerS,
      gaugeToWinderMm,
    };
  }
}
