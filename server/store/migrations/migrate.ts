import Sqlite, { type Database } from 'better-sqlite3';
import { recordLayout } from './0001-record.ts';
import { samplesLayout } from './0002-samples.ts';
import { spoolStatementsLayout } from './0003-spool-statements.ts';
import { statedStageLayout } from './0004-stated-stage.ts';
import { alarmAnswersLayout } from './0005-alarm-answers.ts';
import { peopleLayout } from './0006-people.ts';
import { runStatementsLayout } from './0007-run-statements.ts';
import { thinnedLayout } from './0008-thinned.ts';
import { zoneModelsLayout } from './0009-zone-models.ts';
import { journalByTimeLayout } from './0010-journal-by-time.ts';
import { oneSpoolLayout } from './0011-one-spool.ts';
import { plainNamesLayout } from './0012-plain-names.ts';
import { printsLayout } from './0013-prints.ts';
import { binLayout } from './0014-bin.ts';
import { credentialsLayout } from './0015-credentials.ts';
import { rowChecksumsLayout } from './0016-row-checksums.ts';
import { runDateLayout } from './0017-run-date.ts';
import { decisionsLayout } from './0018-decisions.ts';
import { wantedLayout } from './0019-wanted.ts';
import { rollingCheckLayout } from './0020-rolling-check.ts';
import { preparationLayout } from './0021-preparation.ts';
import { houseLayout } from './0022-house.ts';
import { smallestFeedableLayout } from './0023-smallest-feedable.ts';
import { runTitleLayout } from './0024-run-title.ts';
import { strandUseLayout } from './0025-strand-use.ts';
import { spoolWeighingLayout } from './0026-spool-weighing.ts';
import { spoolTitleLayout } from './0027-spool-title.ts';
import { daySeenLayout } from './0028-day-seen.ts';

/** In order: the first one makes layout 1 (`PRAGMA user_version`). Never change one that was released. */
const MIGRATIONS: readonly string[] = [
  recordLayout,
  samplesLayout,
  spoolStatementsLayout,
  statedStageLayout,
  alarmAnswersLayout,
  peopleLayout,
  runStatementsLayout,
  thinnedLayout,
  zoneModelsLayout,
  journalByTimeLayout,
  oneSpoolLayout,
  plainNamesLayout,
  printsLayout,
  binLayout,
  credentialsLayout,
  rowChecksumsLayout,
  runDateLayout,
  decisionsLayout,
  wantedLayout,
  rollingCheckLayout,
  preparationLayout,
  houseLayout,
  smallestFeedableLayout,
  runTitleLayout,
  strandUseLayout,
  spoolWeighingLayout,
  spoolTitleLayout,
  daySeenLayout,
];

/** The layout that this program writes. */
export const LAYOUT = MIGRATIONS.length;

/** The layout with which every group of rows got a checksum. */
const CHECKSUMS_SINCE = 16;

/** The layout of a database; 0 = empty. */
export function layoutOf(db: Database): number {
  return Number(db.pragma('user_version', { simple: true }));
}

/**
 * Carries a database forward, one transaction per step, so that a kill leaves the last complete layout. A new one is made in
 * a single transaction: each takes a slow card its time.
 * @param upTo for tests that need an older layout
 */
export function migrate(db: Database, upTo: number = LAYOUT): void {
  const current = layoutOf(db);
  const carryForward = () => {
    for (const [i, sql] of MIGRATIONS.slice(current, upTo).entries()) {
      db.transaction(() => {
        db.exec(sql);
        // A layout may change any row.
        if (current + i >= CHECKSUMS_SINCE) db.exec('UPDATE row_group SET checksum = NULL');
        db.pragma(`user_version = ${current + i + 1}`);
      }).immediate();
    }
  };
  if (current === 0) db.transaction(carryForward).immediate();
  else carryForward();
}

/** The first table or column of its layout that a database does not have, by name; null = it has all of them. */
export function missingIn(db: Database): string | null {
  const whole = new Sqlite(':memory:');
  try {
    migrate(whole, layoutOf(db));
    const found = new Set(columnsOf(db));
    return columnsOf(whole).find((name) => !found.has(name)) ?? null;
  } finally {
    whole.close();
  }
}

function columnsOf(db: Database): string[] {
  const columns = `SELECT t.name || '.' || c.name FROM sqlite_schema t, pragma_table_info(t.name) c WHERE t.type = 'table'`;
  return db.prepare<[], string>(columns).pluck().all();
}
