import Sqlite, { type Database } from 'better-sqlite3';
import type { RecordWriter } from '../monitor/ports/record.ts';
import type { LastSample } from '../monitor/ports/samples.ts';
import { Problem } from '../problem/problem.ts';
import { layoutOf } from './migrations/migrate.ts';
import { alarmTable } from './record/alarms.ts';
import { binTable } from './record/bin.ts';
import { settingsTable } from './record/line-settings.ts';
import { operatorLog } from './record/operator-log.ts';
import { runDateTable } from './record/run-date.ts';
import { runSettingsTable } from './record/run-settings.ts';
import { runTable, unknownRun } from './record/runs.ts';
import { sectionTable } from './record/sections.ts';
import { spoolTable } from './record/spools.ts';
import type { UnreadableRows } from './record/unreadable-rows.ts';
import { zoneModelTable } from './record/zone-models.ts';
import { asRecordFailing } from './record-failing.ts';

/**
 * Writes the record. Each call is one transaction that is on disk when the call returns.
 * @param path of the database, for error messages
 * @param lastSample the last stored reading of a run
 * @throws RecordFailing if the disk is full or fails; Problem unknown-run, unknown-spool, unknown-section, wrong-state
 */
export function recordWriter(
  db: Database,
  path: string,
  lastSample: (runId: number) => LastSample | null,
  unreadable: UnreadableRows,
): RecordWriter {
  const runs = runTable(db, unreadable);
  const runSettings = runSettingsTable(db, unreadable);
  const spools = spoolTable(db, unreadable);
  const sections = sectionTable(db, unreadable);
  const alarms = alarmTable(db, unreadable);
  const log = operatorLog(db);
  const bin = binTable(db, unreadable);
  const runDate = runDateTable(db, unreadable);
  const settings = settingsTable(db, unreadable);
  const zoneModels = zoneModelTable(db, unreadable);

  const guarded =
    <A extends unknown[], R>(write: (...args: A) => R, runIdOf: (...args: A) => number | null) =>
    (...args: A): R => {
      try {
        return write(...args);
      } catch (thrown) {
        throw asProblem(thrown, path, runIdOf(...args));
      }
    };
  const ofNoRun = () => null;
  const firstIsRun = (runId: number | null) => runId;

  return {
    beginRun: guarded(runs.begin, ofNoRun),
    endRun: guarded(runs.end, firstIsRun),
    unfinishedRun() {
      const found = runs.unfinished();
      if (found === null) return null;
      return { ...found, spool: spools.open(found.run.id), last: lastSample(found.run.id) };
    },
    saveStatedStage: guarded(runs.setStatedStage, firstIsRun),
    setRunNote: guarded(runs.setNote, firstIsRun),
    setRunTitle: guarded(runs.setTitle, firstIsRun),
    setRunTest: guarded(runs.setTest, firstIsRun),
    setLot: guarded(runs.setLot, firstIsRun),
    setLots: guarded(
      db.transaction((lots, atMs, who) => {
        for (const { runId, lot, what } of lots) {
          runs.setLot(runId, lot, atMs, who);
          log.add({ timeMs: atMs, runId, who, what });
        }
      }) as RecordWriter['setLots'],
      ([first]) => first?.runId ?? null,
    ),
    addRunSettings: guarded(runSettings.add, firstIsRun),
    beginSpool: guarded(spools.begin, (spool) => spool.runId),
    moveSpoolStart: guarded(spools.moveStart, ofNoRun),
    endSpool: guarded(spools.end, ofNoRun),
    reopenSpool: guarded(spools.reopen, ofNoRun),
    moveSpoolChange: guarded(spools.moveChange, ofNoRun),
    splitSpool: guarded(spools.split, ofNoRun),
    setSpoolNote: guarded(spools.setNote, ofNoRun),
    setSpoolTitle: guarded(spools.setTitle, ofNoRun),
    wantOnSpool: guarded(spools.want, ofNoRun),
    saveMeasuredSections: guarded(sections.saveMeasured, firstIsRun),
    saveStatedSection: guarded(sections.saveStated, firstIsRun),
    saveAlarmChanges: guarded(alarms.save, firstIsRun),
    adoptAlarms: guarded(alarms.adopt, firstIsRun),
    setClockAhead: guarded(runDate.setClockAhead, firstIsRun),
    moveRun: guarded(runDate.move, firstIsRun),
    moveRunBack: guarded(runDate.moveBack, firstIsRun),
    moveAlarms: guarded(runDate.moveAlarms, firstIsRun),
    keepDate: guarded(runDate.keep, firstIsRun),
    bin: guarded(bin.add, ofNoRun),
    redateBinned: guarded(bin.redate, ofNoRun),
    restore: guarded(bin.restore, ofNoRun),
    log: guarded(log.add, (entry) => entry.runId),
    loadLineSettings: settings.load,
    saveLineSettings: guarded(settings.save, ofNoRun),
    loadAlarmSettings: alarms.settings,
    saveAlarmSetting: guarded(alarms.saveSetting, ofNoRun),
    loadZoneModels: zoneModels.load,
    saveZoneModels: guarded(zoneModels.save, ofNoRun),
    probe: guarded(() => {
      // Rewrites the number of the layout: one page in the write-ahead log, which needs space as every entry does.
      db.pragma(`user_version = ${layoutOf(db)}`);
    }, ofNoRun),
    standingAlarms: alarms.standing,
    lastAlarmId: alarms.lastId,
  };
}

function asProblem(thrown: unknown, path: string, runId: number | null): unknown {
  if (thrown instanceof Sqlite.SqliteError) {
    if (thrown.code === 'SQLITE_CONSTRAINT_FOREIGNKEY' && runId !== null) return unknownRun(runId);
    if (thrown.code === 'SQLITE_CONSTRAINT_UNIQUE') {
      return new Problem(
        'wrong-state',
        `Run ${runId ?? '?'} already has a spool with that number.`,
        'Reload the spools, then start the next one.',
        { cause: thrown },
      );
    }
  }
  return asRecordFailing(thrown, path);
}
