import type { LineSnapshot } from './line/line-snapshot.ts';
import type { RecordMaintenance } from './ports/maintenance.ts';
import type { RecordReader } from './ports/record.ts';

export interface DiagnosisParts {
  readonly version: string;
  readonly nowMs: number;
  readonly dataFolder: string;
  readonly maintenance: Pick<RecordMaintenance, 'recordBytes' | 'freeBytes'>;
  readonly reader: Pick<RecordReader, 'logEntries'>;
  /** null = no service is running. */
  readonly line: LineSnapshot | null;
}

const ENTRIES_SEARCHED = 500;
const ENTRIES_SHOWN = 20;
const MB = 1e6;

/** What someone who helps needs to know, as text. It names no user, and contains no secret. */
export function diagnosis({ version, nowMs, dataFolder, maintenance, reader, line }: DiagnosisParts): string {
  const { rss } = process.memoryUsage();
  const faults = reader
    .logEntries({ limit: ENTRIES_SEARCHED })
    .filter(({ who }) => who === 'service')
    .slice(0, ENTRIES_SHOWN);
  return [
    `Strandward ${version}, Node ${process.version}, ${process.platform} ${process.arch}`,
    `Time: ${iso(nowMs)}`,
    line === null
      ? 'Not running: this is from the record.'
      : `Running for ${Math.round(process.uptime())} s, memory ${megabytes(rss)}`,
    `Record: ${dataFolder}, ${megabytes(maintenance.recordBytes())}; free on its disk: ${megabytes(maintenance.freeBytes())}`,
    ...(line === null ? [] : ofLine(line)),
    '',
    faults.length === 0 ? 'The service has logged nothing.' : 'Logged by the service, newest first:',
    ...faults.map(({ timeMs, runId, what }) => `  ${iso(timeMs)}${runId === null ? '' : ` run ${runId}`}: ${what}`),
  ]
    .map(withoutSecrets)
    .join('\n');
}

function ofLine({ link, recordTrouble, stage, run, alarms, suppressed }: LineSnapshot): readonly string[] {
  const { counters } = link;
  const dropped = Object.entries(counters.dropped).filter(([, count]) => count > 0);
  return [
    `Record can be written: ${recordTrouble ?? 'yes'}`,
    `Source: ${link.sourceTitle}, ${link.status.phase}. ${link.status.text}`,
    `Link: ${link.linesPerS.toFixed(1)} readings/s; last reading: ${link.silentForS === null ? 'none' : `${link.silentForS.toFixed(1)} s ago`}`,
    `Lines: ${counters.received} received, ${counters.readings} readings, ${counters.lost} lost, ${counters.restarts} restarts of the microcontroller`,
    `Dropped lines: ${dropped.length === 0 ? 'none' : dropped.map(([why, count]) => `${why} ${count}`).join(', ')}`,
    `Stage: ${stage.stage}; run: ${run?.id ?? 'none'}`,
    `Alarms: ${alarms.length} active, ${suppressed.length} suppressed`,
    ...alarms.map(({ type, raisedMs, sentence }) => `  ${iso(raisedMs)} ${type}: ${sentence}`),
  ];
}

/** Addresses of channels may contain passwords and tokens: of any address only the host is shown. */
function withoutSecrets(text: string): string {
  return text.replaceAll(/\b([a-z][\w+.-]*:\/\/)(?:[^\s/@]*@)?([^\s/?#]+)[^\s]*/gi, '$1$2/…');
}

const iso = (timeMs: number) => new Date(timeMs).toISOString();
const megabytes = (bytes: number) => `${(bytes / MB).toFixed(1)} MB`;
