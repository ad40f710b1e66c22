import type { Stage } from '../stage/stage.ts';
import { type Alarm, PRIORITIES } from './alarm.ts';
import { isOfZone, titleOf } from './catalogue.ts';
import { SILENT_AFTER_S } from './conditions.ts';
import { awaitsAcknowledgement, isActive, isLatched } from './life-cycle.ts';
import { duration, metres, millimetres } from './plain-numbers.ts';
import { ALL_WATCHED, type Unwatched } from './unwatched.ts';

const SEVERITIES = ['calm', 'notice', 'abnormal', 'danger'] as const;
/** Red is danger, yellow abnormal, green normal (IEC 60073); `notice` is only worth a look. */
export type Severity = (typeof SEVERITIES)[number];

export interface BlobOnItsWay {
  readonly diameterMm: number;
  readonly spoolMm: number | null;
  readonly reachesWinderInS: number;
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
  /** null or NaN = unknown. */
  readonly diameterMm: number | null;
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

/** The headline of the live page, and its severity. */
export function headline(line: StateOfLine): { readonly sentence: string; readonly severity: Severity } {
  const active = line.alarms.filter(({ state }) => isActive(state));
  const fireHazard = active.find(({ type }) => URGENT_HEAT.has(type));
  if (fireHazard !== undefined) return withMore(fireHazard, active);
  if (line.link.isReleased) return { sentence: released(line.link), severity: 'abnormal' };
  const silent = silence(line);
  if (silent !== null) return { sentence: silent, severity: 'danger' };
  // While the line sends again during the off-delay, the silence alarm is still active but its sentence is out of date.
  const current = active.filter(({ type }) => type !== 'lineSilent');
  const worst = mostImportant(current);
  const blob = line.blobOnItsWay;
  if (blob && comesFirst(blob, worst)) {
    const where = blob.spoolMm === null ? '' : ` at ${metres(blob.spoolMm)}`;
    const what = blob.inDoubt ? 'Possible blob' : 'Blob';
    const sentence = `${what} of ${millimetres(blob.diameterMm)}${where} – reaches the winder in ${duration(blob.reachesWinderInS)}.`;
    return { sentence, severity: blob.inDoubt ? 'abnormal' : 'danger' };
  }
  if (worst !== undefined) return withMore(worst, current);
  const { strand } = line.unwatched ?? ALL_WATCHED;
  if (strand !== null && line.link.phase !== 'ended') return { sentence: strand, severity: 'abnormal' };
  const calm = calmSentence(line);
  if (current.length < active.length) {
    // “Back after a silence” would be wrong if no line ever arrived.
    const never = line.link.silentForS === null ? active.find(({ type }) => type === 'lineSilent') : undefined;
    if (never !== undefined) return { sentence: never.sentence, severity: severityOf(never) };
    return { sentence: `The reading lines are back after a silence. ${calm}`, severity: 'notice' };
  }
  const over = overText(line.alarms);
  if (over !== null) return { sentence: `${over} ${calm}`, severity: 'notice' };
  const shelved = (line.suppressed ?? []).some(({ state }) => state === 'shelved');
  const severity = line.link.phase === 'open' && !shelved && !isWaiting(line) && !hasNotes(line) ? 'calm' : 'notice';
  return { sentence: `${calm}${suppressedNote(line.suppressed ?? [])}`, severity };
}

/** A possible blob waits behind every alarm of high priority, also behind that of an earlier blob. */
function comesFirst({ inDoubt = false }: BlobOnItsWay, worst: Alarm | undefined): boolean {
  return worst === undefined || worst.priority !== 'high' || (worst.type === 'blob' && !inDoubt);
}

/** Past alarms that still need an acknowledgement or a reset; null = none. Their own sentences describe the past. */
function overText(alarms: readonly Alarm[]): string | null {
  const unseen = alarms.filter(({ state }) => awaitsAcknowledgement(state));
  const over = unseen.length > 0 ? unseen : alarms.filter(({ state }) => isLatched(state));
  const [worst] = over;
  if (worst === undefined) return null;
  const many = over.length > 1;
  const what = many
    ? `${over.length} alarms are over, first of them “${titleOf(worst)}”`
    : `The alarm “${titleOf(worst)}” is over`;
  const it = many ? 'them' : 'it';
  if (unseen.length === 0) return `${what}: see that the cause is gone, then press Reset.`;
  return `${what}: read ${it} under Alarms, then press Acknowledge.`;
}

/** Suppressed alarms, because "all well" does not cover them. */
function suppressedNote(suppressed: readonly Alarm[]): string {
  const countOf = (state: Alarm['state'], text: string) => {
    const n = suppressed.filter((alarm) => alarm.state === state).length;
    return n === 0 ? [] : [`${n} ${n === 1 ? 'alarm is' : 'alarms are'} ${text}`];
  };
  const parts = [...countOf('shelved', 'shelved'), ...countOf('outOfService', 'out of service')];
  return parts.length === 0 ? '' : ` ${parts.join(', ')}.`;
}

/** More important than a silent line: the last known state is a danger of fire. */
const URGENT_HEAT: ReadonlySet<Alarm['type']> = new Set(['zoneAboveAbsoluteLimit', 'heaterRisingWithoutPower']);

/**
 * Among equally urgent alarms, one that is not acknowledged comes first, then a zone's own fault: it is dangerous, and may be
 * the cause of a cold screw or a lost strand.
 */
function mostImportant(alarms: readonly Alarm[]): Alarm | undefined {
  const rank = ({ type, priority, state }: Alarm) =>
    4 * PRIORITIES.indexOf(priority) + (awaitsAcknowledgement(state) ? 0 : 2) + (isOfZone(type) ? 0 : 1);
  return alarms.reduce<Alarm | undefined>(
    (worst, one) => (worst === undefined || rank(one) < rank(worst) ? one : worst),
    undefined,
  );
}

function withMore(alarm: Alarm, active: readonly Alarm[]): { sentence: string; severity: Severity } {
  const others = active.length - 1;
  const more = others === 0 ? '' : ` And ${others} more ${others === 1 ? 'alarm' : 'alarms'}.`;
  return { sentence: `${alarm.sentence}${more}`, severity: severityOf(alarm) };
}

function severityOf({ priority, state }: Alarm): Severity {
  if (priority === 'high') return state === 'acknowledged' ? 'abnormal' : 'danger';
  return priority === 'medium' ? 'abnormal' : 'notice';
}

function released({ phase, text }: StateOfLine['link']): string {
  return phase === 'open'
    ? 'Waiting for the first reading line since the port was released.'
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
        : ` ${waiting.length} more ${waiting.length === 1 ? 'alarm rests' : 'alarms rest'} while it is silent.`;
    return `No reading line for ${duration(link.silentForS)}: the line is not being watched.${more}`;
  }
  return null;
}

function calmSentence(line: StateOfLine): string {
  const { link, stage } = line;
  if (link.phase !== 'open' && link.phase !== 'ended') return `Not watching yet: ${asSentence(link.text)}`;
  if (link.phase === 'ended') return 'The recorded readings have ended.';
  if (isWaiting(line)) return 'Waiting for the first reading line.';
  const diameter =
    line.diameterMm === null || Number.isNaN(line.diameterMm) ? '' : `${line.diameterMm.toFixed(3)} mm, `;
  const heatNotes = notes(heatGapsOf(line));
  switch (stage) {
    case 'winding':
      return `Winding: ${wound(line)}${diameter}${howItIs(line)}`;
    case 'purging':
      return line.missing.length === 0
        ? `Purging: ${diameter}ready to wind.${notes(allGapsOf(line))}`
        : `Purging: ${diameter}before winding: ${list(line.missing)}.${heatNotes}`;
    case 'heating': {
      if (line.missing.length > 0) return `Heating up. Before winding: ${list(line.missing)}.${heatNotes}`;
      return heatNotes === '' ? 'Heating up: all zones are at temperature.' : `Heating up.${heatNotes}`;
    }
    case 'stopped':
      return line.strandMoves === true
        ? 'Set to stopped, but strand moves: nothing is being recorded.'
        : `The line stands still.${heatNotes}`;
  }
}

/** Without speed or length, "0.0 m" would be a wrong place. */
function wound({ woundMm, spoolOrdinal, unwatched }: StateOfLine): string {
  const spool = spoolOrdinal === null ? '' : `spool ${spoolOrdinal}, `;
  if (woundMm === null || (unwatched ?? ALL_WATCHED).places !== null) return spool;
  return `${(woundMm / 1000).toFixed(1)} m${spool === '' ? ', ' : ` on ${spool}`}`;
}

/** "All well" only where every rule has what it needs, nothing is silenced, and every zone is at its set-point. */
function howItIs(line: StateOfLine): string {
  const { offHeat = [], suppressed = [], unwatched = ALL_WATCHED } = line;
  const gaps = allGapsOf(line);
  const off = offHeat.length === 0 ? '' : ` ${upperFirst(list(offHeat))}.`;
  const silenced = suppressed.some(({ state }) => state === 'shelved' || state === 'outOfService');
  const complete = gaps.length === 0 && unwatched.minor.length === 0 && !silenced;
  if (off !== '') return complete ? `the strand is well.${off}` : `no fault seen in the strand.${off}${notes(gaps)}`;
  return complete ? 'all well.' : `no fault in what is watched.${notes(gaps)}`;
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

function list(texts: readonly string[]): string {
  return texts.map((text) => text.trim().replace(/\.$/, '')).join('; ');
}

function upperFirst(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
