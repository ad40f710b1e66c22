import type { AlarmChange } from '../alarm/alarm.ts';
import type { Run } from '../entities/run.ts';
import type { LineMonitor } from '../monitor/line-monitor.ts';
import type { RecordReader } from '../monitor/ports/record.ts';
import type { SampleReader } from '../monitor/ports/samples.ts';
import type { RunDateService } from '../monitor/run/run-date-service.ts';
import { dismissedSections, type Judgement } from '../monitor/spool/judgement.ts';
import type { DiameterSpread, SpoolJudge } from '../monitor/spool/spool-judge.ts';
import type { SpoolRepository } from '../monitor/spool/spool-repository.ts';
import { positionMm } from '../monitor/spool/wound-spool.ts';
import { inTurns } from '../worker/in-turns.ts';
import type { RunDetail, RunView, SpoolDetail, SpoolRow } from './contract/runs-and-spools.ts';
import {
  alarmView,
  frameOf,
  limitsView,
  type NowAtGauge,
  runView,
  sectionView,
  spoolRow,
  spoolView,
  troublesWhile,
} from './views.ts';

const LOG_LINES = 500;

export interface RecordViewsParts {
  readonly spools: SpoolRepository;
  readonly judge: SpoolJudge;
  readonly reader: RecordReader;
  readonly samples: SampleReader;
  readonly monitor: LineMonitor;
  readonly runDates: RunDateService;
}

interface JudgedRun {
  readonly view: RunView;
  readonly judged: readonly Judgement[];
  readonly journal: readonly AlarmChange[];
  readonly troubles: RunDetail['troubles'];
}

/**
 * Views of runs and spools. A run is judged by the limits in force while it was made, so that its report never changes with
 * later settings; a spool is judged for the printer chosen for it.
 */
export class RecordViews {
  readonly #ended = new Map<number, { readonly version: string; readonly view: RunView }>();
  readonly #parts: RecordViewsParts;

  constructor(parts: RecordViewsParts) {
    this.#parts = parts;
  }

  /** @param newest only so many; absent = all */
  async runs(newest?: number): Promise<RunView[]> {
    const views: RunView[] = [];
    for await (const run of inTurns(this.#parts.reader.runs().slice(0, newest))) views.push(await this.#runView(run));
    return views;
  }

  /** Those of the newest run first. @param newest only so many; absent = all */
  async spools(newest = Number.POSITIVE_INFINITY): Promise<SpoolRow[]> {
    const { reader, spools } = this.#parts;
    const rows: SpoolRow[] = [];
    for (const run of reader.runs()) {
      for await (const { spool } of inTurns(spools.ofRun(run).toReversed())) {
        if (rows.length === newest) return rows;
        rows.push(await this.#spoolRow(spool.id));
      }
    }
    return rows;
  }

  async #spoolRow(spoolId: number): Promise<SpoolRow> {
    const { judge } = this.#parts;
    const judged = await judge.judge(spoolId);
    return spoolRow(judged, (await judge.spreadOf(judged.woundSpool))?.sdMm ?? null);
  }

  /** Newest first. */
  endedRuns(): Run[] {
    return this.#parts.reader.runs().filter(({ endedMs }) => endedMs !== null);
  }

  /** Calculates what lists show of an ended run, and keeps it ready. */
  async prepare(run: Run): Promise<void> {
    await this.#runView(run);
    for (const { spool } of this.#parts.spools.ofRun(run)) await this.#spoolRow(spool.id);
  }

  async run(runId: number): Promise<RunDetail> {
    const { spools, reader, samples, runDates } = this.#parts;
    const run = spools.run(runId);
    const { view, judged, journal, troubles } = await this.#judgedRun(run);
    const now = this.#now(runId);
    const extent = await samples.extent(runId);
    return {
      run: view,
      dates: runDates.datesOf(run),
      spools: judged.map(spoolView),
      limits: limitsView(spools.settingsOfRun(runId).limits),
      sections: judged.flatMap((one) => one.sections.map((section) => sectionView(section, frameOf(one), now))),
      dismissed: judged.flatMap(dismissedOn),
      extent: extent === null ? null : { ...extent, signals: [...extent.signals] },
      troubles,
      alarms: journal.map(({ timeMs, step, by, from, reason, alarm }) => ({
        timeMs,
        step,
        by,
        from,
        reason,
        alarm: alarmView(alarm),
      })),
      log: reader.logEntries({ runId, limit: LOG_LINES }).map(({ timeMs, who, what }) => ({ timeMs, who, what })),
    };
  }

  async spool(spoolId: number): Promise<SpoolDetail> {
    return this.#spoolOf(await this.#parts.judge.judge(spoolId));
  }

  async #spoolOf(judged: Judgement): Promise<SpoolDetail> {
    const { run } = judged.woundSpool;
    const now = this.#now(run.id);
    return {
      spool: spoolView(judged),
      run: await this.#runView(run),
      sections: judged.sections.map((section) => sectionView(section, frameOf(judged), now)),
      dismissed: dismissedOn(judged),
    };
  }

  /** Caches ended runs: they change only when users state something about them. */
  async #runView(run: Run): Promise<RunView> {
    if (run.endedMs === null) return (await this.#judgedRun(run)).view;
    const { spools, judge, reader } = this.#parts;
    const version = JSON.stringify([
      run.note,
      run.title,
      run.isTest,
      run.lot,
      spools.ofRun(run).map((woundSpool) => judge.versionAsWound(woundSpool)),
      reader.unreadableRows(run.id),
    ]);
    const known = this.#ended.get(run.id);
    if (known?.version === version) return known.view;
    const { view } = await this.#judgedRun(run);
    this.#ended.set(run.id, { version, view });
    return view;
  }

  async #judgedRun(run: Run): Promise<JudgedRun> {
    const { spools, judge, reader } = this.#parts;
    const judged = await Promise.all(spools.ofRun(run).map((woundSpool) => judge.judgeAsWound(woundSpool)));
    const journal = reader.alarmJournal(run.id);
    const raised = journal.flatMap(({ step, alarm }) => (step === 'raised' ? [alarm] : []));
    const troubles = troublesWhile(judged, raised);
    // Otherwise read with the first spool.
    if (judged.length === 0) reader.runSettings(run.id);
    const diameter = pooled(await Promise.all(judged.map(({ woundSpool }) => judge.spreadOf(woundSpool))));
    // Counted last: what is unreadable is found while the rest is read.
    const figures = { alarms: raised.length, ...diameter, unreadableRows: reader.unreadableRows(run.id) };
    return { view: runView(run, judged, figures, troubles), judged, journal, troubles };
  }

  #now(runId: number): NowAtGauge | null {
    const { run, last, gaugeToWinderMm } = this.#parts.monitor.snapshot();
    if (run?.id !== runId || last === null) return null;
    return { gaugeMm: last.gaugeMm, speedMmPerS: last.speedMmPerS, gaugeToWinderMm };
  }
}

function dismissedOn(judged: Judgement): SpoolDetail['dismissed'] {
  return dismissedSections(judged).map(({ fromMm, toMm, ...section }) => ({
    ...section,
    spoolId: judged.woundSpool.spool.id,
    fromSpoolMm: positionMm(judged.woundSpool, fromMm),
    toSpoolMm: positionMm(judged.woundSpool, toMm),
  }));
}

/** Of all spools together. Mean and spread are null if nothing was measured, or single readings were deleted. */
function pooled(spreads: readonly (DiameterSpread | null)[]): Pick<RunView, 'diameterMeanMm' | 'diameterSdMm'> {
  let [readings, mean, squares] = [0, 0, 0];
  for (const spread of spreads) {
    if (spread === null) continue;
    const { readings: n, meanMm, sdMm } = spread;
    // Spools are pooled: squares about the mean of all (Chan, Golub & LeVeque 1979).
    squares += (n - 1) * sdMm ** 2 + ((meanMm - mean) ** 2 * readings * n) / (readings + n);
    mean += ((meanMm - mean) * n) / (readings + n);
    readings += n;
  }
  return readings < 2
    ? { diameterMeanMm: null, diameterSdMm: null }
    : { diameterMeanMm: mean, diameterSdMm: Math.sqrt(squares / (readings - 1)) };
}
