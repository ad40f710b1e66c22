import { NO_POWER } from '../heat/healthy-zone.ts';
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
  const many = COUNTED[type];
  if (many === undefined) return `${first} It happened ${occurrences} times.`;
  const last = samePlace(latest, worst) || latest.spoolMm === undefined ? '' : `, the latest${where(latest)}`;
  return `${occurrences} ${many}; the worst: ${lowerFirst(SENTENCES[type](worst))}${last}.`;
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
  strandLost: 'times the strand was lost',
};

const SENTENCES: Readonly<Record<AlarmType, (facts: ConditionFacts) => string>> = {
  blob: (f) =>
    `Blob${ofValue(f.diameterMm, millimetres)}${where(f)}${limit(f.limitMm, 'above the hotend limit of')}${lengthClause(f.lengthMm)}`,
  blobInDoubt: (f) =>
    `Possible blob${ofValue(f.diameterMm, millimetres)}${where(f)}${f.text === undefined ? '' : `, ${f.text}`}: look before you cut`,
  neck: (f) =>
    `Thin spot${ofValue(f.diameterMm, millimetres)}${where(f)}${limit(f.limitMm, 'below the smallest feedable diameter of')}${lengthClause(f.lengthMm)}`,
  offTolerance: (f) =>
    `Strand out of tolerance${where(f)}${f.diameterMm === undefined ? '' : `, ${millimetres(f.diameterMm)} at its worst`}${limit(f.limitMm, 'beyond')}${lengthClause(f.lengthMm)}`,
  strandLost: (f) => `No strand in the gauge${where(f)}${durationClause(f.forS)}: it broke, ran out or slipped out`,
  gaugeFrozen: (f) =>
    `The gauge reports exactly ${f.diameterMm === undefined ? 'the same' : `${f.diameterMm.toFixed(3)} mm`}${durationClause(f.forS)} while the strand moves: the diameter is not being watched`,
  gaugeMissing: (f) =>
    `No diameter from the gauge${durationClause(f.forS)} while strand is being made: it is not being watched`,
  lengthContradicted: (f) =>
    `The length counter and the speed disagree${detail(f.text)}. Where the strand is on the spool is not known`,
  gaugeBlind: (f) =>
    `The gauge shows no more than ${f.diameterMm === undefined ? 'the end of its range' : millimetres(f.diameterMm)}${limit(f.limitMm, 'less than the hotend limit of')}: blobs are not being watched`,
  lineSilent: (f) =>
    `No reading line${durationClause(f.forS)}: the line is not being watched${f.text ? `. ${withoutStop(f.text)}` : ''}`,
  lineGarbled: (f) =>
    f.text === undefined
      ? `${f.count === undefined ? 'Many' : `${f.count} %`} of the reading lines of the last seconds could not be read`
      : `The reading lines cannot be read${detail(f.text)}`,
  signalsChanged: () =>
    'Lines arrive, but their names have changed and none is understood: the line is not being watched',
  deviceRestarted: (f) =>
    `The microcontroller restarted${where(f)}: its counters started at zero again${detail(f.text)}`,
  sensorOpen: (f) => `${zone(f)}: its temperature sensor is open or unplugged, so its temperature is not known`,
  sensorShort: (f) =>
    `${zone(f)}: its temperature sensor is shorted or reads the end of its scale, so its temperature is not known`,
  heaterNoRise: (f) =>
    `${zone(f)} does not get warmer${atTemperature(f.temperatureC)} although it is heated${setpointClause(f.setpointC)}${power(f.power)}: heater, fuse or switch may be at fault, or the sensor is not in the zone`,
  heaterFallingAway: (f) =>
    `${zone(f)} falls away from its set-point${f.setpointC === undefined ? '' : ` of ${celsius(f.setpointC)}`}: now ${f.temperatureC === undefined ? 'below it' : celsius(f.temperatureC)}${power(f.power)}. The heater failed, or the sensor slipped out and the zone is really hotter than this`,
  heaterRisingWithoutPower: (f) =>
    `${zone(f)} gets hotter although it should not${atTemperature(f.temperatureC)}${setpointClause(f.setpointC)}${power(f.power)}: its switch may be stuck on`,
  zoneAboveAbsoluteLimit: (f) =>
    `${zone(f)} is above the absolute limit${f.temperatureC === undefined ? '' : `: ${celsius(f.temperatureC)}`}${f.limitC === undefined ? '' : `, limit ${celsius(f.limitC)}`}: its switch may be stuck on, or its set-point is wrong`,
  sensorSlipped: (f) =>
    `${zone(f)} reads colder faster than it can cool${atTemperature(f.temperatureC)}${setpointClause(f.setpointC)}${power(f.power)}: its sensor seems to have slipped out of its hole, and the zone is really hotter than this`,
  heaterWeak: (f) =>
    `${zone(f)} gets less heat from its power than usual${atTemperature(f.temperatureC)}${setpointClause(f.setpointC)}${power(f.power)}: half of its heater may have failed, its supply may be low, its clamp may be loose, or its sensor may not sit firmly in its hole`,
  sensorFrozen: (f) =>
    `${zone(f)} keeps reporting exactly the same temperature${atTemperature(f.temperatureC)}: its true temperature is not known. The sensor's electronics or the firmware may be stuck${(f.power ?? 0) > HEATS_ABOVE ? ', or its heater failed and the temperature only seems frozen' : ''}`,
  sensorJumping: (f) =>
    `${zone(f)}: its temperature jumps faster than metal can warm or cool${atTemperature(f.temperatureC)}: a loose sensor or noise on its wires`,
  zoneLate: (f) =>
    `${zone(f)} should have reached its set-point by now${f.setpointC === undefined ? '' : ` of ${celsius(f.setpointC)}`} but is at ${f.temperatureC === undefined ? 'less' : celsius(f.temperatureC)}${power(f.power)}: a weak heater, a draught, or a set-point beyond what it can reach`,
  zoneOscillating: (f) =>
    `${zone(f)} keeps swinging around its set-point${f.setpointC === undefined ? '' : ` of ${celsius(f.setpointC)}`}${atTemperature(f.temperatureC)}: its controller is tuned too aggressively, or its sensor is loose`,
  zoneDrifting: (f) =>
    (f.temperatureC ?? 0) > (f.setpointC ?? Number.NaN) && (f.power ?? 1) <= NO_POWER
      ? `${zone(f)} stays above its set-point of ${celsius(f.setpointC ?? 0)} without power: now ${celsius(f.temperatureC ?? 0)}. Something else heats it, or its reading is wrong`
      : `${zone(f)} has slowly moved away from its set-point${f.setpointC === undefined ? '' : ` of ${celsius(f.setpointC)}`}: now ${f.temperatureC === undefined ? 'off it' : celsius(f.temperatureC)}${power(f.power)}. Its heater is no longer strong enough, or its controller no longer corrects it`,
  coldScrew: (f) =>
    `The screw turns${f.text ? ` although ${withoutStop(f.text)}` : ' before the barrel is hot'}: a cold plug breaks screws and gears`,
  hotStanding: (f) =>
    `The barrel is hot${atTemperature(f.temperatureC)} and the screw is not turning${durationClause(f.forS)}: the material in it chars`,
  diskFilling: (f) => `The disk of the record is nearly full${detail(f.text)}`,
  recordFailing: (f) => `Nothing is being recorded${detail(f.text)}`,
};

function zone(f: ConditionFacts): string {
  return f.zone === undefined ? 'A zone' : `Zone ${f.zone}${f.zoneName ? ` (${f.zoneName})` : ''}`;
}

/** " at 41.20 m of spool 1"; '' where no spool is being wound. */
function where(f: ConditionFacts): string {
  if (f.spoolMm === undefined) return '';
  return ` at ${metres(f.spoolMm)}${f.spoolOrdinal === undefined ? '' : ` of spool ${f.spoolOrdinal}`}`;
}

function ofValue(value: number | undefined, format: (value: number) => string): string {
  return value === undefined ? '' : ` of ${format(value)}`;
}

function limit(limitMm: number | undefined, clause: string): string {
  return limitMm === undefined ? '' : `, ${clause} ${millimetres(limitMm)}`;
}

function lengthClause(lengthMm: number | undefined): string {
  if (lengthMm === undefined || lengthMm < 1) return '';
  return lengthMm < 1000 ? `, ${Math.round(lengthMm)} mm long` : `, ${metres(lengthMm)} long`;
}

function durationClause(forS: number | undefined): string {
  return forS === undefined ? '' : ` for ${duration(forS)}`;
}

function detail(text: string | undefined): string {
  return text ? `: ${withoutStop(text)}` : '';
}

function withoutStop(text: string): string {
  return text.replace(/\.+\s*$/, '');
}

function atTemperature(temperatureC: number | undefined): string {
  return temperatureC === undefined ? '' : ` (${celsius(temperatureC)})`;
}

function setpointClause(setpointC: number | undefined): string {
  if (setpointC === undefined) return '';
  return setpointC > 0 ? `, set-point ${celsius(setpointC)}` : ', set-point off';
}

function power(share: number | undefined): string {
  return share === undefined ? '' : `, power ${percent(share)}`;
}

function lowerFirst(text: string): string {
  return text.charAt(0).toLowerCase() + text.slice(1);
}
