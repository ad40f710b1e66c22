import type { AlarmView } from '../../server/api/contract/alarms.ts';
import type { ExportFormat } from '../../server/api/contract/exports.ts';
import type { LinkView, LiveState, ZoneView } from '../../server/api/contract/live-state.ts';
import type { LotView, RunDetail, SectionView, SpoolView } from '../../server/api/contract/runs-and-spools.ts';
import { valuesText } from '../../server/preparation/fields.ts';
import { KIND_TEXT } from '../../server/strand/section-names.ts';
import { counted } from './numbers.ts';

/** Texts for the codes of the API. */

/** The connection text of a source, preceded by its title where the text does not contain it. */
export function sourceLabel({ sourceTitle, text }: Pick<LinkView, 'sourceTitle' | 'text'>): string {
  return text.includes(sourceTitle) ? text : `${sourceTitle}: ${text}`;
}

/** "a simulation at 10 times its own pace". */
export function stagedText({ kind, pace }: NonNullable<LinkView['playback']>): string {
  if (pace === 'max') return `a ${kind} as fast as it goes`;
  return pace === 1 ? `a ${kind}` : `a ${kind} at ${pace} times real speed`;
}

/** The kind of a section, "Possible blob" or "Possible thin spot" where the gauge cannot tell and no user has said to discard it. */
export function sectionName({ kind, certainty, verdict }: Pick<SectionView, 'kind' | 'certainty' | 'verdict'>): string {
  const isPossible = (kind === 'blob' || kind === 'neck') && certainty === 'inDoubt' && verdict !== 'discard';
  return isPossible ? `Possible ${KIND_TEXT[kind].toLowerCase()}` : KIND_TEXT[kind];
}

/**
 * The colour of a section, everywhere that of its alarm: a thin spot is calmer than a blob, even if it is to be discarded. Its
 * pattern and its text say what to do with it.
 */
export function sectionTone({ kind, verdict }: Pick<SectionView, 'kind' | 'verdict'>): 'danger' | 'abnormal' | 'calm' {
  if (verdict === 'good') return 'calm';
  return verdict === 'discard' && kind !== 'neck' ? 'danger' : 'abnormal';
}

/** Added after the name of a section in doubt. */
const DOUBT_TEXT: Record<NonNullable<SectionView['doubt']>, string> = {
  nearLimit: 'in doubt: too near to the limit for the gauge to tell',
  oneReading: 'in doubt, one reading only: look before you cut',
  fewReadings: 'in doubt, too few readings: look before you cut',
  gaugeShifted: 'in doubt: the gauge shifted before it',
  axesDisagree: 'in doubt: the two axes disagree',
  gaugeBlind: 'the range of the gauge ends too low',
  gaugeNoisy: 'the gauge is too noisy',
};

/** " (in doubt: …)"; '' where it is sure, or plainly not measured. */
export function doubtText({ kind, certainty, doubt }: Pick<SectionView, 'kind' | 'certainty' | 'doubt'>): string {
  if (certainty === 'sure' || (kind === 'unknown' && doubt === null)) return '';
  return ` (${doubt === null ? 'in doubt' : DOUBT_TEXT[doubt]})`;
}

export const VERDICT_TEXT: Record<SectionView['verdict'], string> = {
  good: 'Good',
  doubtful: 'Doubtful',
  discard: 'Discard',
};

export const DECISION_TEXT: Record<NonNullable<SectionView['decision']>, string> = {
  cutOut: 'Cut out',
  left: 'Left on the spool',
};

export const DOING_TEXT: Record<ZoneView['state'], string> = {
  off: 'off',
  heating: 'heating',
  holding: 'holding',
  cooling: 'cooling',
  away: 'off its set-point',
  faulty: 'faulty',
  unknown: 'not known',
};

export const FAULT_TEXT: Record<ZoneView['faults'][number], string> = {
  sensorOpen: 'sensor open',
  sensorShort: 'sensor shorted',
  noRise: 'not warming up as it should',
  losingTemperature: 'losing temperature',
  risingWithoutPower: 'heating with power off',
  aboveAbsoluteLimit: 'above the absolute limit',
  sensorSlipped: 'sensor slipped out',
  heaterWeak: 'weaker than learnt',
  frozen: 'reading frozen',
  jumping: 'reading jumps',
  late: 'slower than it should be',
  oscillating: 'oscillating',
  drifting: 'stays off its set-point',
};

export const STAGE_TEXT: Record<LiveState['stage']['stage'], string> = {
  stopped: 'Stopped',
  heating: 'Heating',
  purging: 'Purging',
  winding: 'Winding',
};

export const STATE_TEXT: Record<AlarmView['state'], string> = {
  normal: 'Cleared',
  unacknowledged: 'Not acknowledged',
  acknowledged: 'Acknowledged',
  returnedUnacknowledged: 'Cleared, not acknowledged',
  latchedUnacknowledged: 'Cleared: acknowledge, then reset',
  latchedAcknowledged: 'Cleared: reset to close',
  shelved: 'Silenced',
  suppressedByDesign: 'Suppressed by design',
  outOfService: 'Out of service',
};

/** Priorities as ISA-18.2 / IEC 62682 name them. */
export const PRIORITY_TEXT: Record<AlarmView['priority'], string> = {
  high: 'High priority',
  medium: 'Medium priority',
  low: 'Low priority',
};

export const DROP_TEXT: Record<keyof LinkView['dropped'], string> = {
  tooLong: 'Longer than 512 bytes',
  notAscii: 'Bytes that are not text',
  badChecksum: 'Wrong checksum',
  noChecksum: 'Checksum missing',
  unreadable: 'Unreadable',
  wrongShape: 'Different format from the rest',
  implausible: 'Like no other line, or impossible values',
};

export const PHASE_TEXT: Record<LinkView['phase'], string> = {
  opening: 'opening',
  open: 'connected',
  released: 'released to other programs',
  waiting: 'waiting to try again',
  ended: 'at its end',
  closed: 'closed',
};

export const JOURNAL_TEXT: Record<RunDetail['alarms'][number]['step'], string> = {
  raised: 'raised',
  again: 'happened again',
  returned: 'returned to normal',
  acknowledged: 'acknowledged',
  reset: 'reset',
  shelved: 'silenced',
  unshelved: 'silence ended',
  suppressed: 'suppressed by design',
  unsuppressed: 'no longer suppressed',
  outOfService: 'taken out of service',
  returnedToService: 'returned to service',
};

/** "Spool 2 of run 14". */
export function spoolName(spool: Pick<SpoolView, 'ordinal' | 'runId'>): string {
  return `Spool ${spool.ordinal} of run ${spool.runId}`;
}

/** "Grey supports: dried 8 h at 50 °C"; only one of the two where the other is empty. */
export function lotText({ name, preparation, values }: LotView): string {
  const prepared = [valuesText(values), preparation].filter((text) => text !== '').join(', ');
  return [name, prepared].filter((text) => text !== '').join(': ');
}

/** The formats for other programs, with what each is for. */
export const EXPORT_TEXT: readonly (readonly [ExportFormat, string, string])[] = [
  ['csv', 'CSV', 'for a spreadsheet'],
  ['jsonl', 'JSON lines', 'one reading a line'],
  ['parquet', 'Parquet', 'small and quick, for analysis'],
];

/** "Two entries of its record cannot be read and are left out". @param whose "its" or "the run’s" */
export function unreadableText(rows: number, whose = 'its'): string {
  const text = (entries: string, are: string) => `${entries} of ${whose} record cannot be read and ${are}`;
  return `${counted(rows, text('entry', 'is'), text('entries', 'are'))} left out`;
}
