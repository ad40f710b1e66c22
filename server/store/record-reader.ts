import type { Database } from 'better-sqlite3';
import type { RecordReader } from '../monitor/ports/record.ts';
import { alarmTable } from './record/alarms.ts';
import { binTable } from './record/bin.ts';
import { operatorLog } from './record/operator-log.ts';
import { runDateTable } from './record/run-date.ts';
import { runSettingsTable } from './record/run-settings.ts';
import { runTable } from './record/runs.ts';
import { sectionTable } from './record/sections.ts';
import { spoolTable } from './record/spools.ts';
import type { UnreadableRows } from './record/unreadable-rows.ts';

/** Reads the record. */
export function recordReader(db: Database, unreadable: UnreadableRows): RecordReader {
  const runs = runTable(db, unreadable);
  const runSettings = runSettingsTable(db, unreadable);
  const spools = spoolTable(db, unreadable);
  const sections = sectionTable(db, unreadable);
  const alarms = alarmTable(db, unreadable);
  const log = operatorLog(db);
  const bin = binTable(db, unreadable);
  const runDate = runDateTable(db, unreadable);
  return {
    runs: runs.all,
    hasHadRuns: runs.hasHadAny,
    run: runs.find,
    house: runs.house,
    runNamed: runs.named,
    runSettings: runSettings.ofRun,
    spools: spools.ofRun,
    spool: spools.find,
    measuredSections: sections.measured,
    unreadableSections: sections.unreadable,
    statedSections: sections.stated,
    statedSection: sections.statedById,
    alarmJournal: alarms.journal,
    alarmJournalPage: alarms.journalPage,
    runDate: runDate.of,
    datedWrong: runDate.wrong,
    movingRuns: runDate.moving,
    unreadableRows: (runId) => unreadable.ofRun(runId),
    binned: bin.all,
    logEntries: ({ runId, limit }) => log.newest(runId, limit),
  };
}
