import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox';
import type {
  FastifyBaseLogger,
  FastifyInstance,
  RawReplyDefaultExpression,
  RawRequestDefaultExpression,
  RawServerDefault,
} from 'fastify';
import type { PeopleDesk } from '../../calling/people-desk.ts';
import type { HouseDesk } from '../../monitor/house-desk.ts';
import type { LineMonitor } from '../../monitor/line-monitor.ts';
import type { RecordKeeper, RecordReader } from '../../monitor/ports/record.ts';
import type { RecordHouse } from '../../monitor/ports/record-house.ts';
import type { SampleColumnsReader, SampleReader } from '../../monitor/ports/samples.ts';
import type { PrinterDesk } from '../../monitor/printer-desk.ts';
import type { RecordingDesk } from '../../monitor/recording-desk.ts';
import type { RunSummaries } from '../../monitor/run-summaries.ts';
import type { CutDesk } from '../../monitor/spool/cut-desk.ts';
import type { LengthDesk } from '../../monitor/spool/length-desk.ts';
import type { SectionDesk } from '../../monitor/spool/section-desk.ts';
import type { SpoolBook } from '../../monitor/spool/spool-book.ts';
import type { SpoolBoundsDesk } from '../../monitor/spool/spool-bounds-desk.ts';
import type { SpoolJudge } from '../../monitor/spool/spool-judge.ts';
import type { Clock } from '../../monitor/steady-clock.ts';
import type { LiveFeed } from '../live-feed.ts';
import type { RecordViews } from '../record-views.ts';

/** What the routes may use. */
export interface RouteContext {
  readonly monitor: LineMonitor;
  readonly keeper: RecordKeeper;
  readonly reader: RecordReader;
  readonly samples: SampleReader & SampleColumnsReader;
  readonly book: SpoolBook;
  readonly judge: SpoolJudge;
  readonly desk: SectionDesk;
  readonly printers: PrinterDesk;
  readonly people: PeopleDesk;
  readonly cuts: CutDesk;
  readonly lengths: LengthDesk;
  readonly bounds: SpoolBoundsDesk;
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
