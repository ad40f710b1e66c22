import type { Database } from 'better-sqlite3';
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

/** In order; the position + 1 is the layout number in `PRAGMA user_version`. Never change one that was released. */
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
];

/** The layout that this program writes and understands. */
export const LAYOUT = MIGRATIONS.length;

/** The layout of a database; 0 = empty. */
export function layoutOf(db: Database): number {
  return Number(db.pragma('user_version', { simple: true }));
}

/**
 * Carry a database forward, one transaction a step: a kill in the middle leaves the last complete layout.
 * `upTo` serves tests that need an older one.
 */
export function migrate(db: Database, upTo: number = LAYOUT): void {
  for (let layout = layoutOf(db) + 1; layout <= upTo; layout++) {
    db.transaction(() => {
      db.exec(MIGRATIONS[layout - 1]!);
      db.pragma(`user_version = ${layout}`);
    }).immediate();
  }
}
