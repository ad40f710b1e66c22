import type { LineSnapshot } from './line/line-snapshot.ts';
import type { RecordMaintenance } from './ports/maintenance.ts';
import type { RecordReader } from './ports/record.ts';

export interface DiagnosisParts {
  readonly version: string;
  readonly nowMs: number;
  readonly dataFolder: string;
  readonly store: {
    readonly maintenance: Pick<RecordMaintenance, 'recordBytes' | 'freeBytes'>;
    readonly reader: Pick<RecordReader, 'logEntries'>;
  };
  /** What a running service sees; or why none answers, as sentences. */
  readonly line: LineSnapshot | string;
  /** Channels whose messages do not get through. Known only to a running service. */
  readonly failing?: readonly { readonly kind: string; readonly text: string }[];
}

/** A file of the data folder. */
export interface ListedFile {
  readonly name: string;
  readonly bytes: number;
  readonly changedMs: number;
}

const ENTRIES_SEARCHED = 500;
const ENTRIES_SHOWN = 20;
const MB = 1e6;
const GB = 1e9;

/** What someone who helps needs to know, as text. It names no user, and contains no secret. */
export function diagnosis({ version, nowMs, dataFolder, store, line, failing = [] }: DiagnosisParts): string {
  const { rss } = process.memoryUsage();
  const { maintenance, reader } = store;
  // Entries of an imported run, or from before the clock was set, have earlier times than those before them.
  const faults = reader
    .logEntries({ limit: ENTRIES_SEARCHED })
    .filter(({ who }) => who === 'service')
    .sort((a, b) => b.timeMs - a.timeMs)
    .slice(0, ENTRIES_SHOWN);
  return [
    ...heading(version, nowMs),
    typeof line === 'string'
      ? `${line} This is from the record.`
      : `Running for ${Math.round(process.uptime())} s, memory ${size(rss)}`,
    `Record: ${dataFolder}, ${size(maintenance.recordBytes())}; free on its disk: ${size(maintenance.freeBytes())}`,
    ...(typeof line === 'string' ? [] : [...ofLine(line), ...ofChannels(failing)]),
    '',
    faults.length === 0 ? 'The service has logged nothing.' : 'Logged by the service, newest first:',
    ...faults.map(({ timeMs, runId, what }) => `  ${iso(timeMs)}${runId === null ? '' : ` run ${runId}`}: ${what}`),
  ]
    .map(withoutSecrets)
    .join('\n');
}

/** The same if the record cannot be read. */
export function diagnosisWithoutRecord(
  parts: Pick<DiagnosisParts, 'version' | 'nowMs' | 'dataFolder'> & {
    /** Why no service answers, and why the record cannot be read, as sentences. */
    readonly why: readonly string[];
    readonly files: readonly ListedFile[];
  },
): string {
  const { version, nowMs, dataFolder, why, files } = parts;
  return [
    ...heading(version, nowMs),
    ...why,
    '',
    files.length === 0 ? `No files can be seen in ${dataFolder}.` : `Files in ${dataFolder}:`,
    ...files.map(({ name, bytes, changedMs }) => `  ${name}: ${bytes} bytes, changed ${iso(changedMs)}`),
  ]
    .map(withoutSecrets)
    .join('\n');
}

const heading = (version: string, nowMs: number) => [
  `Strandward ${version}, Node ${process.version}, ${process.platform} ${process.arch}`,
  `Time: ${iso(nowMs)}`,
];

function ofLine({ link, recordTrouble, stage, run, alarms, suppressed }: LineSnapshot): readonly string[] {
  const { counters } = link;
  const dropped = Object.entries(counters.dropped).filter(([, count]) => count > 0);
  return [
    `Record can be written: ${recordTrouble === null ? 'yes' : `no. ${recordTrouble}`}`,
    `Source: ${link.sourceTitle}, ${link.status.phase}. ${link.status.text}`,
    `Link: ${link.readingsPerS.toFixed(1)} readings/s; last reading: ${link.silentForS === null ? 'none' : `${link.silentForS.toFixed(1)} s ago`}`,
    `Lines: ${counters.received} received, ${counters.readings} readings, ${counters.lost} lost, ${counters.restarts} restarts of the microcontroller`,
    `Dropped lines: ${dropped.length === 0 ? 'none' : dropped.map(([why, count]) => `${why} ${count}`).join(', ')}`,
    `Stage: ${stage.stage}; run: ${run?.id ?? 'none'}`,
    `Alarms: ${alarms.length} active, ${suppressed.length} suppressed`,
    ...alarms.map(({ type, raisedMs, sentence }) => `  ${iso(raisedMs)} ${type}: ${sentence}`),
  ];
}

/** By kind, because users name channels after people. */
function ofChannels(failing: NonNullable<DiagnosisParts['failing']>): readonly string[] {
  return [
    `Channels that fail: ${failing.length === 0 ? 'none' : failing.length}`,
    ...failing.map(({ kind, text }) => `  ${kind}: ${text}`),
  ];
}

/** Addresses of channels may contain passwords and tokens: of any address, also of mail, only the host is shown. */
function withoutSecrets(text: string): string {
  return text
    .replaceAll(/\b([a-z][\w+.-]*:\/\/)(?:[^\s/@]*@)?([^\s/?#]+)[^\s]*/gi, '$1$2/…')
    .replaceAll(/[^\s“<"@]+@(?=[\w.-]+)/g, '…@');
}

const iso = (timeMs: number) => new Date(timeMs).toISOString();
const size = (bytes: number) => (bytes < GB ? `${(bytes / MB).toFixed(1)} MB` : `${(bytes / GB).toFixed(1)} GB`);
