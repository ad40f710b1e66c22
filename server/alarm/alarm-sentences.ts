import { NO_POWER } from '../heat/healthy-zone.ts';
import { capital } from '../problem/sentence.ts';
import type { AlarmType, ConditionFacts } from './alarm.ts';
import { celsius, duration, metres, millimetres, percent } from './plain-numbers.ts';

/**
 * The sentence of an alarm: what, how bad, where on the spool, for how long, and how often. `worst`: facts of its worst moment;
 * `latest`: facts of the last occurrence. It contains no clock time, because the reader's time zone is unknown here.
 */
export function alarmSentence(
  type: AlarmType,
  worst: ConditionFacts,
  latest: ConditionFacts,
  occurrences: number,
): string {
  const first = `${SENTENCES[type](worst)}.`;
  if (occurrences < 2) return first;
  if (type === 'strandLost') return `Strand lost ${occurrences} times, the last time${where(latest)}. ${first}`;
  const many = COUNTED[type];
  if (many === undefined) return `${first} It happened ${occurrences === 2 ? 'twice' : `${occurrences} times`}.`;
  const last = `${occurrences} ${many}${latest.spoolMm === undefined ? '' : `, the latest${where(latest)}`}.`;
  if (worst.diameterMm === undefined) return last;
  return samePlace(latest, worst)
    ? `${last} It is the worst, ${millimetres(worst.diameterMm)}.`
    : `${last} The worst is ${millimetres(worst.diameterMm)}${where(worst)}.`;
}

/** Whether both are about the same place on the strand. Old facts without a gauge length have only the place on the spool. */
export function samePlace(a: ConditionFacts, b: ConditionFacts): boolean {
  if (a.gaugeMm === undefined || b.gaugeMm === undefined) return a.spoolMm === b.spoolMm;
  return a.runId === b.runId && a.gaugeMm === b.gaugeMm;
}

/** The sentence of an alarm that was suppressed before it ever occurred. */
export function nothingYetSentence(title: string, facts: ConditionFacts, subject: string): string {
  const which = facts.zone === undefined ? subject : `zone ${facts.zone}`;
  return `${title}${which === '' ? '' : ` of ${which}`}: none so far.`;
}

/** At this share of full power any zone rises: if its reading is still, its heater may be lost instead. */
const HEATS_ABOVE = 0.5;

const COUNTED: Partial<Record<AlarmType, string>> = {
  blob: 'blobs',
  blobInDoubt: 'possible blobs',
  neck: 'thin spots',
  offTolerance: 'stretches out of tolerance',
};

/** The first sentence names the cause, for a headline; a second one says what may be behind it or what follows. */
const SENTENCES: Readonly<Record<AlarmType, (facts: ConditionFacts) => string>> = {
  blob: (f) => `Blob${ofValue(f.diameterMm)}${where(f)}${size(f, 'hotend limit')}`,
  blobInDoubt: (f) =>
    `Possible blob${ofValue(f.diameterMm)}${where(f)}${f.text === undefined ? '' : `, ${f.text}`}. Look before you cut`,
  neck: (f) =>
    f.text === undefined
      ? `Thin spot${ofValue(f.diameterMm)}${where(f)}${size(f, 'smallest feedable diameter')}`
      : `Possible thin spot${ofValue(f.diameterMm)}${where(f)}, ${f.text}. Look before you cut`,
  offTolerance: (f) => `Out of tolerance${where(f)}${reaching(f)}${size(f, 'limit')}`,
  strandLost: (f) => `No strand in the gauge${durationClause(f.forS)}${where(f)}. It broke, ran out or slipped out`,
  spoolFull: (f) =>
    f.forS === undefined || f.forS === 0
      ? `${spool(f)} is full. Strand falls over its flange`
      : `${spool(f)} will be full in ${duration(f.forS)} at the present speed. Then strand falls over its flange`,
  wantedReached: (f) => `${spool(f)} holds the ${f.text ?? 'amount'} that was wanted`,
  gaugeFrozen: (f) =>
    `The gauge shows exactly ${f.diameterMm === undefined ? 'the same value' : `${f.diameterMm.toFixed(3)} mm`}${durationClause(f.forS)} while the strand moves. The diameter is not being watched`,
  gaugeMissing: (f) =>
    `No diameter from the gauge${durationClause(f.forS)} while strand is being made. Blobs are not being watched`,
  lengthContradicted: (f) =>
    `The length counter and the speed disagree${detail(f.text)}. Places on the spool are not known`,
  gaugeBlind: (f) =>
    `The gauge shows no more than ${f.diameterMm === undefined ? 'the end of its range' : millimetres(f.diameterMm)}${limit(f.limitMm, 'less than the hotend limit of')}. Blobs are not being watched`,
  lineSilent: (f) =>
    `No data${durationClause(f.forS)}: nothing is being watched${f.text ? `. ${withoutStop(f.text)}` : ''}`,
  lineGarbled: (f) =>
    f.text === undefined
      ? `${f.count === undefined ? 'Many' : `${f.count} %`} of the lines of the last seconds could not be read`
      : `The data cannot be read${detail(f.text)}`,
  signalsChanged: (f) =>
    f.text === undefined
      ? 'The names in the data have changed and none is understood: nothing is being watched'
      : `Names in the data have changed: ${f.text} can no longer be watched`,
  deviceRestarted: (f) =>
    `The microcontroller restarted${where(f)}${detail(f.text)}. Its counters started at zero again`,
  sensorOpen: (f) => `${zone(f)}: temperature sensor open or unplugged. The zone's temperature is not known`,
  sensorShort: (f) =>
    `${zone(f)}: temperature sensor shorted or at the end of its scale. The zone's temperature is not known`,
  heaterNoRise: (f) =>
    `${zone(f)} is heated but does not warm up as it should${heat(f)}. Heater, fuse or switch may have failed, or the sensor is not in the zone`,
  heaterLosingTemperature: (f) =>
    `${zone(f)} is losing temperature${heat(f)}. Its heater failed, or its sensor slipped out and the zone is hotter than this`,
  heaterRisingWithoutPower: (f) =>
    `${zone(f)} is heating although it should not be${heat(f)}. Its switch may be stuck on`,
  zoneAboveAbsoluteLimit: (f) =>
    `${zone(f)} reached ${f.temperatureC === undefined ? 'more than its limit' : `${celsius(f.temperatureC)}, above its limit`}${f.limitC === undefined ? '' : ` of ${celsius(f.limitC)}`}. Its switch may be stuck on, or its set-point is wrong`,
  sensorSlipped: (f) =>
    `${zone(f)}: the reading falls faster than the zone can cool${heat(f)}. Its sensor has probably slipped out, so the zone is hotter than this`,
  heaterWeak: (f) =>
    `${zone(f)} gets less heat from its power than usual${heat(f)}. Half of its heater may have failed, its supply may be low, or its clamp or sensor may be loose`,
  sensorFrozen: (f) =>
    `${zone(f)} has been frozen at ${f.temperatureC === undefined ? 'the same temperature' : celsius(f.temperatureC)}. Its sensor's electronics or the firmware may be stuck${(f.power ?? 0) > HEATS_ABOVE ? ', or its heater failed' : ''}`,
  sensorJumping: (f) =>
    `${zone(f)}: the reading jumps faster than metal can warm or cool${heat(f)}. The sensor is loose, or its wires pick up noise`,
  zoneLate: (f) =>
    `${zone(f)} should have reached its set-point by now${heat(f)}. Its heater is weak, a draught cools it, or it cannot get this hot`,
  zoneOscillating: (f) =>
    `${zone(f)} is oscillating around its set-point${heat(f)}. Its controller is tuned too aggressively, or its sensor is loose`,
  zoneDrifting: (f) =>
    (f.temperatureC ?? 0) > (f.setpointC ?? Number.NaN) && (f.power ?? 1) <= NO_POWER
      ? `${zone(f)} stays above its set-point without power${heat(f)}. Something else heats it, or its reading is wrong`
      : `${zone(f)} has drifted off its set-point${heat(f)}. Its heater is no longer strong enough, or its controller no longer corrects it`,
  coldScrew: (f) =>
    `The screw turns${f.text ? ` although ${withoutStop(f.text)}` : ' before the barrel is hot'}. A cold plug breaks screws and gears`,
  hotStanding: (f) =>
    `The barrel is hot${heat(f)} and the screw has not turned${durationClause(f.forS)}. The material in it is charring`,
  diskFilling: (f) => `The disk of the record is nearly full${detail(f.text)}`,
  recordDamaged: (f) => `Part of the record is damaged${sentence(f.text)}`,
  runDatedWrong: (f) => `The date of a run is wrong${detail(f.text)}`,
  keysGuessed: (f) => `Someone is guessing the access key or a code${detail(f.text)}`,
  recordFailing: (f) => `Nothing is being recorded${sentence(f.text)}`,
};

function spool({ spoolOrdinal }: ConditionFacts): string {
  return spoolOrdinal === undefined ? 'The spool' : `Spool ${spoolOrdinal}`;
}

function zone(f: ConditionFacts): string {
  return f.zone === undefined ? 'A zone' : `Zone ${f.zone}${f.zoneName ? ` (${f.zoneName})` : ''}`;
}

/** " at 41.20 m of spool 1"; '' where no spool is being wound. */
function where(f: ConditionFacts): string {
  if (f.spoolMm === undefined) return '';
  return ` at ${metres(f.spoolMm)}${f.spoolOrdinal === undefined ? '' : ` of spool ${f.spoolOrdinal}`}`;
}

function ofValue(diameterMm: number | undefined): string {
  return diameterMm === undefined ? '' : ` of ${millimetres(diameterMm)}`;
}

/** ", 9 mm long. The hotend limit is 1.90 mm". */
function size({ lengthMm, limitMm }: ConditionFacts, limitName: string): string {
  const beyond = limitMm === undefined ? '' : `. The ${limitName} is ${millimetres(limitMm)}`;
  if (lengthMm === undefined || lengthMm < 1) return beyond;
  return `, ${lengthMm < 1000 ? `${Math.round(lengthMm)} mm` : metres(lengthMm)} long${beyond}`;
}

/** ", up to 1.85 mm". */
function reaching({ diameterMm, limitMm }: ConditionFacts): string {
  if (diameterMm === undefined) return '';
  return `, ${limitMm !== undefined && diameterMm < limitMm ? 'down' : 'up'} to ${millimetres(diameterMm)}`;
}

function limit(limitMm: number | undefined, clause: string): string {
  return limitMm === undefined ? '' : `, ${clause} ${millimetres(limitMm)}`;
}

function durationClause(forS: number | undefined): string {
  return forS === undefined ? '' : ` for ${duration(forS)}`;
}

function detail(text: string | undefined): string {
  return text ? `: ${withoutStop(text)}` : '';
}

/** Facts that are a sentence, after another one. */
function sentence(text: string | undefined): string {
  return text ? `. ${capital(withoutStop(text))}` : '';
}

function withoutStop(text: string): string {
  return text.replace(/\.+\s*$/, '');
}

/** " (180 °C, set-point 195 °C, power 100 %)". */
function heat({ temperatureC, setpointC, power }: ConditionFacts): string {
  const parts = [
    temperatureC === undefined ? null : celsius(temperatureC),
    setpointC === undefined ? null : setpointC > 0 ? `set-point ${celsius(setpointC)}` : 'set-point off',
    power === undefined ? null : `power ${percent(power)}`,
  ].filter((part) => part !== null);
  return parts.length === 0 ? '' : ` (${parts.join(', ')})`;
}
