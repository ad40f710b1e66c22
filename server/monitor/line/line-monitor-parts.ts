import type { Guessing } from '../../alarm/record-conditions.ts';
import type { Problem } from '../../problem/problem.ts';
import type { RecoveredSettings } from '../../settings/check-line-settings.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import type { Source } from '../../source/source.ts';
import type { MonotonicClock } from '../clock.ts';
import type { Log } from '../log.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import type { SampleColumnsReader, SampleWriter } from '../ports/samples.ts';

/** The ports and settings that a monitor needs. */
export interface LineMonitorParts {
  readonly clock: MonotonicClock;
  readonly log: Log;
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly samples: SampleWriter;
  /** Reads stored readings when a run is resumed; without it the trends of the spool start over. */
  readonly columns?: SampleColumnsReader;
  /** Writes pending readings; called at least once a second. */
  flushSamples(nowMs: number): void;
  /** How much space is left on the disk of the record, as text, if too little; null = enough. */
  diskFilling?(): string | null;
  /** What the last checks of the record found, as text; null = nothing. */
  recordDamage?(): string | null;
  /** Addresses that guess keys or codes now, the one with most wrong keys first. */
  guessing?(): readonly Guessing[];
  /** To be called before an address is opened: one whose drive hangs is then refused. Without it, none hangs. */
  askSource?(address: string): Promise<void>;
  /**
   * @param isFixed given at the start, not set on the page, which may not choose every file and device
   * @throws Problem for an address that cannot be understood or used
   */
  openSource(address: string, isFixed: boolean): Source;
  /** Stands in for a configured source that cannot be used, and shows why. */
  unusableSource(problem: Problem, isFixed: boolean): Source;
  /** The current, checked settings. */
  readonly settings: LineSettings;
  /** What could not be used of those that were saved; without it, nothing was lost. */
  readonly recovered?: Pick<RecoveredSettings, 'reset' | 'notice'>;
  /** Source address from the command line; it takes precedence over the setting. */
  readonly fixedSource: string | null;
  readonly timeZone: string;
  /** How long a run goes on after a user set `stopped`, so that it can be undone; without it the run ends at once. */
  readonly undoStopForMs?: number;
}
