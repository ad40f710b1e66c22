import { capital, firstSentence } from '../problem/sentence.ts';
import type { Stage } from '../stage/stage.ts';
import { type Alarm, PRIORITIES } from './alarm.ts';
import { isOfZone, titleOf } from './catalogue.ts';
import { SILENT_AFTER_S } from './conditions.ts';
import { awaitsAcknowledgement, isActive, isLatched } from './life-cycle.ts';
import { duration, millimetres } from './plain-numbers.ts';
import { ALL_WATCHED, type Unwatched } from './unwatched.ts';

const SEVERITIES = ['calm', 'notice', 'abnormal', 'danger'] as const;
/** Red is danger, yellow abnormal, green normal (IEC 60073); `notice` is only worth a look. */
type Severity = (typeof SEVERITIES)[number];

export interface BlobOnItsWay {
  readonly diameterMm: number;
  /** Only a possible blob: it may be sound strand. */
  readonly inDoubt?: boolean;
}

/** Facts for the sentence. Lengths in mm. */
export interface StateOfLine {
  readonly stage: Stage;
  /** What is still missing before winding, as short phrases; empty = ready. */
  readonly missing: readonly string[];
  /** What is not watched although lines arrive. */
  readonly unwatched?: Unwatched;
  /** Zones that are not at their set-point, as phrases. */
  readonly offHeat?: readonly string[];
  /** All alarms that are neither normal nor suppressed, most urgent first. */
  readonly alarms: readonly Alarm[];
  /** All suppressed alarms. */
  readonly suppressed?: readonly Alarm[];
  /** null = no spool is being wound. */
  readonly spoolOrdinal: number | null;
  readonly woundMm: number | null;
  /** Strand is moving through the gauge. */
  readonly strandMoves?: boolean;
  readonly link: {
    readonly phase: 'opening' | 'open' | 'waiting' | 'released' | 'ended' | 'closed';
    /** The source's description of its connection. */
    readonly text: string;
    readonly silentForS: number | null;
    /** A live source: silence is a fault. */
    readonly live: boolean;
    /** A user has released the port, or did until a moment ago. */
    readonly isReleased?: boolean;
  };
  /** The next blob to reach the winder. */
  readonly blobOnItsWay?: BlobOnItsWay | null;
}

export interface Headline {
  /** One thought: the cause of an alarm, or else the stage, with a count of the rest. */
  readonly sentence: string;
  readonly severity: Severity;
  /** A few words for a page title, such as “Winding 41 m”. */
  readonly brief: string;
  /** The alarm that it is about; null = none. */
  readonly alarmId: number | null;
}

/** The headline of the live page. */
export function headline(line: StateOfLine): Headline {
  const open = line.alarms.filter(({ state }) => isActive(state) || awaitsAcknowledgement(state));
  const active = open.filter(({ state }) => isActive(state));
  const fireHazard = active.find(({ type }) => URGENT_HEAT.has(type));
  if (fireHazard !== undefined) return ofAlarm(fireHazard, open);
  if (line.link.isReleased) return withoutAlarm(released(line.link), 'abnormal', 'Not watching');
  const silent = silence(line);
  if (silent !== null) {
    const alarmId = active.find(({ type }) => type === 'lineSilent')?.id ?? null;
    return { ...withoutAlarm(silent, 'danger', 'No data'), alarmId };
  }
  // While the line sends again during the off-delay, the silence alarm is still active but its sentence is out of date.
  const current = open.filter(({ type, state }) => type !== 'lineSilent' || !isActive(state));
  const worst = mostImportant(current.filter(({ state }) => isActive(state)));
  const blob = line.blobOnItsWay;
  if (blob && comesFirst(blob, worst)) return ofBlob(blob, current);
  if (worst !== undefined) return ofAlarm(worst, current);
  const { strand } = line.unwatched ?? ALL_WATCHED;
  const brief = briefStage(line);
  if (strand !== null && line.link.phase !== 'ended') return withoutAlarm(strand, 'abnormal', brief);
  if (active.length > 0) {
    // “Back after a gap” would be wrong if no line ever arrived.
    const never = line.link.silentForS === null ? active.find(({ type }) => type === 'lineSilent') : undefined;
    if (never !== undefined) return { ...ofAlarm(never, [never]), sentence: never.sentence };
    return withoutAlarm(`Data is back after a gap. ${stageSentence(line)}`, 'notice', brief);
  }
  const past = ofPastAlarms(line);
  if (past !== null) return past;
  const shelved = (line.suppressed ?? []).some(({ state }) => state === 'shelved');
  const severity = line.link.phase === 'open' && !shelved && !isWaiting(line) && !hasNotes(line) ? 'calm' : 'notice';
  return withoutAlarm(`${calmSentence(line)}${suppressedNote(line.suppressed ?? [])}`, severity, brief);
}

function withoutAlarm(sentence: string, severity: Severity, brief: string): Headline {
  return { sentence, severity, brief, alarmId: null };
}

/** The countdown is not part of the sentence: it would change it every second. */
function ofBlob({ diameterMm, inDoubt = false }: BlobOnItsWay, open: readonly Alarm[]): Headline {
  const alarm = open.find(({ type, state }) => type === (inDoubt ? 'blobInDoubt' : 'blob') && isActive(state));
  const others = open.length - (alarm === undefined ? 0 : 1);
  const what = inDoubt ? 'Possible blob' : 'Blob';
  return {
    sentence: `${what} of ${millimetres(diameterMm)} on its way to the winder.${andMore(others)}`,
    severity: inDoubt ? 'abnormal' : 'danger',
    brief: briefly(what, others),
    alarmId: alarm?.id ?? null,
  };
}

/** A possible blob waits behind every alarm of high priority, also behind that of an earlier blob. */
function comesFirst({ inDoubt = false }: BlobOnItsWay, worst: Alarm | undefined): boolean {
  return worst === undefined || worst.priority !== 'high' || (worst.type === 'blob' && !inDoubt);
}

/**
 * Past alarms that still need an acknowledgement or a reset; null = none. Their own sentences describe the past, and “all
 * well” beside them would contradict them.
 */
function ofPastAlarms(line: StateOfLine): Headline | null {
  const unseen = line.alarms.filter(({ state }) => awaitsAcknowledgement(state));
  const past = unseen.length > 0 ? unseen : line.alarms.filter(({ state }) => isLatched(state));
  const [worst] = past;
  if (worst === undefined) return null;
  const one = past.length === 1;
  const cleared = one ? `“${titleOf(worst)}” has cleared.` : `${past.length} alarms have cleared.`;
  return {
    sentence:
      unseen.length === 0
        ? `${cleared} Check that the cause is fixed, then press Reset. ${stageSentence(line)}`
        : `${one ? `Past alarm to acknowledge: “${titleOf(worst)}”` : `${past.length} past alarms to acknowledge`}. ${stageSentence(line)}`,
    severity: 'notice',
    brief: one ? 'Past alarm' : `${past.length} past alarms`,
    alarmId: worst.id,
  };
}

/** Suppressed alarms, because "all well" does not cover them. */
function suppressedNote(suppressed: readonly Alarm[]): string {
  const countOf = (state: Alarm['state'], text: string) => {
    const n = suppressed.filter((alarm) => alarm.state === state).length;
    return n === 0 ? [] : [`${n} ${n === 1 ? 'alarm is' : 'alarms are'} ${text}`];
  };
  const parts = [...countOf('shelved', 'silenced'), ...countOf('outOfService', 'out of service')];
  return parts.length === 0 ? '' : ` ${parts.join(', ')}.`;
}

/** More important than a silent line: the last known state is a danger of fire. */
const URGENT_HEAT: ReadonlySet<Alarm['type']> = new Set(['zoneAboveAbsoluteLimit', 'heaterRisingWithoutPower']);

/**
 * An unacknowledged alarm comes before an acknowledged one, unless that is more urgent by two priorities. Among
 * equals, a zone's own fault comes first: it is dangerous, and may be the cause of a cold screw or a lost strand. Then comes a
 * record that fails, because what is said about the rest is lost.
 */
function mostImportant(alarms: readonly Alarm[]): Alarm | undefined {
  const place = (type: Alarm['type']) => (isOfZone(type) ? 0 : type === 'recordFailing' ? 1 : 2);
  const rank = ({ type, priority, state }: Alarm) =>
    4 * PRIORITIES.indexOf(priority) + (awaitsAcknowledgement(state) ? 0 : 6) + place(type);
  return alarms.reduce<Alarm | undefined>(
    (worst, one) => (worst === undefined || rank(one) < rank(worst) ? one : worst),
    undefined,
  );
}

function ofAlarm(alarm: Alarm, open: readonly Alarm[]): Headline {
  const others = open.length - 1;
  return {
    sentence: `${firstSentence(alarm.sentence)}${andMore(others)}`,
    severity: severityOf(alarm),
    brief: briefly(titleOf(alarm), others),
    alarmId: alarm.id,
  };
}

function andMore(others: number): string {
  return others === 0 ? '' : ` And ${others} more ${others === 1 ? 'alarm' : 'alarms'}.`;
}

function briefly(what: string, others: number): string {
  return others === 0 ? what : `${what} +${others}`;
}

function severityOf({ priority, state }: Alarm): Severity {
  if (priority === 'high') return state === 'acknowledged' ? 'abnormal' : 'danger';
  return priority === 'medium' ? 'abnormal' : 'notice';
}

function released({ phase, text }: StateOfLine['link']): string {
  return phase === 'open'
    ? 'Waiting for data since the port was released.'
    : `Nothing is being watched. ${asSentence(text)}`;
}

function silence({ link, suppressed = [] }: StateOfLine): string | null {
  if (!link.live || link.phase === 'ended' || link.phase === 'closed') return null;
  if (link.silentForS !== null && link.silentForS >= SILENT_AFTER_S) {
    const waiting = suppressed.filter(
      ({ state, suppression }) => state === 'suppressedByDesign' && isActive(suppression?.before ?? 'normal'),
    );
    const more =
      waiting.length === 0
        ? ''
        : ` ${waiting.length} other ${waiting.length === 1 ? 'alarm is' : 'alarms are'} on hold until data returns.`;
    return `No data for ${duration(link.silentForS)}: nothing is being watched.${more}`;
  }
  return null;
}

/** The stage, how it goes, and what is not watched. */
function calmSentence(line: StateOfLine): string {
  if (!isWatching(line)) return stageSentence(line);
  if (line.stage === 'winding') return `${wound(line)}${howItIs(line)}`;
  const isReady = line.stage === 'purging' && line.missing.length === 0;
  return `${stageSentence(line)}${notes(isReady ? allGapsOf(line) : heatGapsOf(line))}`;
}

function isWatching(line: StateOfLine): boolean {
  return line.link.phase === 'open' && !isWaiting(line);
}

/** The stage alone. */
function stageSentence(line: StateOfLine): string {
  const { link, missing } = line;
  if (link.phase === 'ended') return 'The recorded readings have ended.';
  if (link.phase !== 'open') return `Not watching yet: ${asSentence(link.text)}`;
  if (isWaiting(line)) return 'Waiting for the first reading.';
  const before = missing.length === 0 ? '' : ` Before winding: ${missingInShort(line).join(', ')}.`;
  switch (line.stage) {
    case 'winding':
      return `${wound(line)}.`;
    case 'purging':
      return missing.length === 0 ? 'Purging: ready to wind.' : `Purging.${before}`;
    case 'heating':
      return `${isHot(line) ? 'At temperature' : 'Heating up'}.${before}`;
    case 'stopped':
      return line.strandMoves === true
        ? 'Marked as stopped, but strand is moving: nothing is being recorded.'
        : 'The line is standing still.';
  }
}

function briefStage(line: StateOfLine): string {
  if (line.link.phase === 'ended') return 'Recording ended';
  if (!isWatching(line)) return 'No data yet';
  switch (line.stage) {
    case 'winding': {
      const length = woundText(line);
      return length === null ? 'Winding' : `Winding ${length}`;
    }
    case 'purging':
      return line.missing.length === 0 ? 'Ready to wind' : 'Purging';
    case 'heating':
      return isHot(line) ? 'At temperature' : 'Heating up';
    case 'stopped':
      return 'Stopped';
  }
}

/** Several zones that are not at temperature are counted: each has its place on the page, and their numbers change all the time. */
function missingInShort({ missing, offHeat = [] }: StateOfLine): readonly string[] {
  if (offHeat.length < 2) return missing;
  return [`${offHeat.length} zones are not at temperature`, ...missing.filter((phrase) => !offHeat.includes(phrase))];
}

/** Known only where every zone sends its temperature and set-point. */
function isHot(line: StateOfLine): boolean {
  return (line.offHeat ?? []).length === 0 && heatGapsOf(line).length === 0;
}

/** “Winding spool 1: 41 m”. Without speed or length, a number would be a wrong place. */
function wound(line: StateOfLine): string {
  const spool = line.spoolOrdinal === null ? 'Winding' : `Winding spool ${line.spoolOrdinal}`;
  const length = woundText(line);
  return length === null ? spool : `${spool}: ${length}`;
}

function woundText({ woundMm, unwatched }: StateOfLine): string | null {
  if (woundMm === null || (unwatched ?? ALL_WATCHED).places !== null) return null;
  return woundMm < 1000 ? 'less than 1 m' : `${Math.floor(woundMm / 1000)} m`;
}

/** "All well" only where every rule has what it needs, nothing is silenced, and every zone is at its set-point. */
function howItIs(line: StateOfLine): string {
  const { offHeat = [], suppressed = [], unwatched = ALL_WATCHED } = line;
  const gaps = allGapsOf(line);
  const silenced = suppressed.some(({ state }) => state === 'shelved' || state === 'outOfService');
  const complete = gaps.length === 0 && unwatched.minor.length === 0 && !silenced;
  const off = offHeat.length === 0 ? '' : ` ${capital(offHeat.join(', '))}.`;
  if (off !== '')
    return complete ? `, the strand is fine.${off}` : `, no fault seen in the strand now.${off}${notes(gaps)}`;
  return complete ? ', all well.' : `, no fault seen now.${notes(gaps)}`;
}

function heatGapsOf({ unwatched = ALL_WATCHED }: StateOfLine): readonly string[] {
  return [unwatched.heat, unwatched.heatInPart].filter((gap) => gap !== null);
}

function allGapsOf(line: StateOfLine): readonly string[] {
  const { places } = line.unwatched ?? ALL_WATCHED;
  return places === null ? heatGapsOf(line) : [places, ...heatGapsOf(line)];
}

function notes(gaps: readonly string[]): string {
  return gaps.map((gap) => ` ${gap}`).join('');
}

/** Something in the calm sentence deserves a look. */
function hasNotes(line: StateOfLine): boolean {
  return allGapsOf(line).length > 0 || (line.stage === 'winding' && (line.offHeat ?? []).length > 0);
}

function isWaiting({ link, stage }: StateOfLine): boolean {
  return link.live && link.silentForS === null && stage === 'stopped';
}

function asSentence(text: string): string {
  const trimmed = text.trim();
  return /[.!?]$/.test(trimmed) ? trimmed : `${trimmed}.`;
}
