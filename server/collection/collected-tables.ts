import { type ColumnSource, parquetWriteBuffer } from 'hyparquet-writer';
import type { RunDetail } from '../api/contract/runs-and-spools.ts';
import { fieldOf, PREPARATION_FIELDS, type Values } from '../preparation/fields.ts';

/** A small table as a Parquet file. */
export interface CollectedTable {
  readonly file: string;
  readonly rows: number;
  readonly bytes: Uint8Array;
}

type Kind = 'STRING' | 'DOUBLE' | 'INT32' | 'BOOLEAN' | 'TIMESTAMP';
type Cell = string | number | boolean | null | undefined;

/** A column: its name, which ends in its unit, its type, and its value in a row. Times are UTC ms. */
type Column<Row> = readonly [name: string, kind: Kind, value: (row: Row) => Cell];

/** What the table of all runs says about one. */
export type RunRow = Pick<RunDetail, 'run' | 'extent'>;

/** All runs of a line with their material: one file, because opening a thousand takes an engine seconds. */
export function runsTable(runs: readonly RunRow[]): CollectedTable {
  return tableOf('runs.parquet', RUN, runs);
}

/** The sections of a run, and each step of its alarms. The readings are a file of their own. */
export function tablesOfRun({ sections, alarms }: RunDetail): readonly CollectedTable[] {
  return [tableOf('sections.parquet', SECTION, sections), tableOf('alarms.parquet', ALARM, alarms)];
}

const RUN: readonly Column<RunRow>[] = [
  ['run', 'INT32', ({ run }) => run.id],
  ['started', 'TIMESTAMP', ({ run }) => run.startedMs],
  ['ended', 'TIMESTAMP', ({ run }) => run.endedMs],
  ['time_zone', 'STRING', ({ run }) => run.timeZone],
  ['title', 'STRING', ({ run }) => run.title],
  ['is_test', 'BOOLEAN', ({ run }) => run.isTest],
  ['readings', 'INT32', ({ extent }) => extent?.count ?? 0],
  ['wound_mm', 'DOUBLE', ({ run }) => run.woundMm],
  ['kept_mm', 'DOUBLE', ({ run }) => run.keptMm],
  ['discard_mm', 'DOUBLE', ({ run }) => run.discardMm],
  ['doubtful_mm', 'DOUBLE', ({ run }) => run.doubtfulMm],
  ['unknown_mm', 'DOUBLE', ({ run }) => run.unknownMm],
  ['coils', 'INT32', ({ run }) => run.coils],
  ['longest_coil_mm', 'DOUBLE', ({ run }) => run.longestCoilMm],
  ['blobs', 'INT32', ({ run }) => run.blobs],
  ['alarms', 'INT32', ({ run }) => run.alarms],
  ['worst_mm', 'DOUBLE', ({ run }) => run.worstMm],
  ['diameter_mean_mm', 'DOUBLE', ({ run }) => run.diameterMeanMm],
  ['diameter_sd_mm', 'DOUBLE', ({ run }) => run.diameterSdMm],
  ['verdict', 'STRING', ({ run }) => run.verdict.quality],
  ['reason', 'STRING', ({ run }) => run.verdict.reason],
  ['note', 'STRING', ({ run }) => run.note],
  ['material', 'STRING', ({ run }) => run.lot?.name],
  ['preparation', 'STRING', ({ run }) => run.lot?.preparation],
  ...PREPARATION_FIELDS.map(
    ({ key, kind }): Column<RunRow> => [
      columnName(key),
      kind === 'number' ? 'DOUBLE' : kind === 'yesNo' ? 'BOOLEAN' : 'STRING',
      ({ run }) => run.lot?.values[key],
    ],
  ),
  ['own_fields', 'STRING', ({ run }) => JSON.stringify(ownOnly(run.lot?.values ?? {}))],
];

const SECTION: readonly Column<RunDetail['sections'][number]>[] = [
  ['spool_id', 'INT32', ({ spoolId }) => spoolId],
  ['kind', 'STRING', ({ kind }) => kind],
  ['from_gauge_mm', 'DOUBLE', ({ fromGaugeMm }) => fromGaugeMm],
  ['to_gauge_mm', 'DOUBLE', ({ toGaugeMm }) => toGaugeMm],
  ['from_spool_mm', 'DOUBLE', ({ fromSpoolMm }) => fromSpoolMm],
  ['to_spool_mm', 'DOUBLE', ({ toSpoolMm }) => toSpoolMm],
  ['from_time', 'TIMESTAMP', ({ fromTimeMs }) => fromTimeMs],
  ['to_time', 'TIMESTAMP', ({ toTimeMs }) => toTimeMs],
  ['peak_mm', 'DOUBLE', ({ peakMm }) => peakMm],
  ['certainty', 'STRING', ({ certainty }) => certainty],
  ['doubt', 'STRING', ({ doubt }) => doubt],
  ['verdict', 'STRING', ({ verdict }) => verdict],
  ['decision', 'STRING', ({ decision }) => decision],
  ['origin', 'STRING', ({ origin }) => origin],
  ['note', 'STRING', ({ note }) => note],
];

const ALARM: readonly Column<RunDetail['alarms'][number]>[] = [
  ['alarm_id', 'INT32', ({ alarm }) => alarm.id],
  ['type', 'STRING', ({ alarm }) => alarm.type],
  ['subject', 'STRING', ({ alarm }) => alarm.subject],
  ['priority', 'STRING', ({ alarm }) => alarm.priority],
  ['step', 'STRING', ({ step }) => step],
  ['at', 'TIMESTAMP', ({ timeMs }) => timeMs],
  ['by', 'STRING', ({ by }) => by],
  ['sentence', 'STRING', ({ alarm }) => alarm.sentence],
];

/** `dryingH` is `drying_h`. */
function columnName(key: string): string {
  return key.replace(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`);
}

function ownOnly(values: Values): Values {
  return Object.fromEntries(Object.entries(values).filter(([key]) => fieldOf(key).kind === 'any'));
}

function tableOf<Row>(file: string, columns: readonly Column<Row>[], rows: readonly Row[]): CollectedTable {
  const columnData = columns.map(
    ([name, type, value]): ColumnSource => ({
      name,
      type,
      nullable: true,
      data: rows.map((row) => {
        const cell = value(row) ?? null;
        return type === 'TIMESTAMP' && typeof cell === 'number' ? new Date(cell) : cell;
      }),
    }),
  );
  const bytes = new Uint8Array(parquetWriteBuffer({ columnData, createdBy: 'Strandward' }));
  return { file, rows: rows.length, bytes };
}
