import type { Problem } from '../../problem/problem.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import type { Source } from '../../source/source.ts';
import type { Log } from '../log.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import type { SampleColumnsReader, SampleWriter } from '../ports/samples.ts';
import type { SteadyClock } from '../steady-clock.ts';

/** What a monitor is made from: its ports and its settings. */
export interface LineMonitorParts {
  readonly clock: SteadyClock;
  readonly log: Log;
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly samples: SampleWriter;
  /** Reads stored readings of a run that is taken up again; without it the trends of the spool start over. */
  readonly columns?: SampleColumnsReader;
  /** Write pending readings; called once a second. */
  flushSamples(nowMs: number): void;
  /** How much the disk of the record has left, in words, when that is too little; null = enough. */
  diskFilling?(): string | null;
  /** @throws Problem where the address cannot be understood or used */
  openSource(address: string): Source;
  /** What stands in for a source that was set but cannot be used: it says why. */
  unusableSource(problem: Problem): Source;
  /** The current settings, checked. */
  readonly settings: LineSettings;
  /** Address given at start; it takes precedence over the setting. */
  readonly fixedSource: string | null;
  readonly timeZone: string;
}
