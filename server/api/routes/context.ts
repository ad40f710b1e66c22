import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox';
import type {
  FastifyBaseLogger,
  FastifyInstance,
  RawReplyDefaultExpression,
  RawRequestDefaultExpression,
  RawServerDefault,
} from 'fastify';
import type { PeopleService } from '../../escalation/people-service.ts';
import type { Clock } from '../../monitor/clock.ts';
import type { LineMonitor } from '../../monitor/line-monitor.ts';
import type { MaintenanceService } from '../../monitor/maintenance-service.ts';
import type { RecordMaintenance } from '../../monitor/ports/maintenance.ts';
import type { RecordReader, RecordWriter } from '../../monitor/ports/record.ts';
import type { SampleColumnsReader, SampleReader } from '../../monitor/ports/samples.ts';
import type { PrinterService } from '../../monitor/printer-service.ts';
import type { RecordingService } from '../../monitor/recording-service.ts';
import type { RunSummaries } from '../../monitor/run/run-summaries.ts';
import type { CutService } from '../../monitor/spool/cut-service.ts';
import type { LengthService } from '../../monitor/spool/length-service.ts';
import type { SectionService } from '../../monitor/spool/section-service.ts';
import type { SpoolBoundsService } from '../../monitor/spool/spool-bounds-service.ts';
import type { SpoolJudge } from '../../monitor/spool/spool-judge.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import type { LiveFeed } from '../live-feed.ts';
import type { RecordViews } from '../record-views.ts';

/** What the routes may use. */
export interface RouteContext {
  readonly monitor: LineMonitor;
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly samples: SampleReader & SampleColumnsReader;
  readonly spools: SpoolRepository;
  readonly judge: SpoolJudge;
  readonly service: SectionService;
  readonly printers: PrinterService;
  readonly people: PeopleService;
  readonly cuts: CutService;
  readonly lengths: LengthService;
  readonly bounds: SpoolBoundsService;
  readonly summaries: RunSummaries;
  readonly maintenance: MaintenanceService;
  /** Runs on their way to and from other installations. */
  readonly archives: Pick<RecordMaintenance, 'scratchPath' | 'freeBytes' | 'runBytes' | 'writeArchive' | 'readArchive'>;
  /** Recorded logs on their way to becoming runs. */
  readonly recordings: RecordingService;
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
