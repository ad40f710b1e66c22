import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox';
import type {
  FastifyBaseLogger,
  FastifyInstance,
  RawReplyDefaultExpression,
  RawRequestDefaultExpression,
  RawServerDefault,
} from 'fastify';
import { Type } from 'typebox';
import type { PeopleDesk } from '../../calling/people-desk.ts';
import type { CutDesk } from '../../monitor/cut-desk.ts';
import type { HouseDesk } from '../../monitor/house-desk.ts';
import type { LengthDesk } from '../../monitor/length-desk.ts';
import type { LineMonitor } from '../../monitor/line-monitor.ts';
import type {
  RecordHouse,
  RecordKeeper,
  RecordReader,
  SampleColumnsReader,
  SampleReader,
} from '../../monitor/ports.ts';
import type { PrinterDesk } from '../../monitor/printer-desk.ts';
import type { RecordingDesk } from '../../monitor/recording-desk.ts';
import type { RunSummaries } from '../../monitor/run-summaries.ts';
import type { SectionDesk } from '../../monitor/section-desk.ts';
import type { SpoolAnalyst } from '../../monitor/spool-analyst.ts';
import type { SpoolBoundsDesk } from '../../monitor/spool-bounds-desk.ts';
import type { Clock } from '../../monitor/steady-clock.ts';
import type { LiveFeed } from '../live-feed.ts';
import type { RecordViews } from '../record-views.ts';

/** What the routes may use. */
export interface RouteContext {
  readonly monitor: LineMonitor;
  readonly keeper: RecordKeeper;
  readonly reader: RecordReader;
  readonly samples: SampleReader & SampleColumnsReader;
  readonly desk: SectionDesk;
  readonly printers: PrinterDesk;
  readonly people: PeopleDesk;
  readonly cuts: CutDesk;
  readonly lengths: LengthDesk;
  readonly bounds: SpoolBoundsDesk;
  readonly analyst: SpoolAnalyst;
  readonly summaries: RunSummaries;
  readonly house: HouseDesk;
  /** Runs on their way to and from other installations. */
  readonly archives: Pick<RecordHouse, 'scratchPath' | 'freeBytes' | 'runBytes' | 'writeArchive' | 'readArchive'>;
  /** Recorded logs on their way to becoming runs. */
  readonly recordings: RecordingDesk;
  readonly views: RecordViews;
  readonly feed: LiveFeed;
  readonly clock: Clock;
  /** Differs after each start of the service. */
  readonly boot: string;
  /** Given at start, it cannot be changed on the set-up page; null = the setting counts. */
  readonly fixedSource: string | null;
  /** Names of the simulator's scenarios. */
  readonly scenarios: readonly string[];
  listSerialPorts(): Promise<readonly { path: string; stablePath: string; title: string }[]>;
}

export type Api = FastifyInstance<
  RawServerDefault,
  RawRequestDefaultExpression<RawServerDefault>,
  RawReplyDefaultExpression<RawServerDefault>,
  FastifyBaseLogger,
  TypeBoxTypeProvider
>;

/** Who did it, where an address outside the contract still takes that in its body. */
export const By = Type.Optional(Type.String({ minLength: 1, maxLength: 60, description: 'Who does it' }));

export { DEFAULT_WHO } from '../caller.ts';
export { IdParam } from '../contract/schema.ts';
