import type { Stage } from '../stage/stage.ts';
import type { AlarmType, ConditionFacts, Priority } from './alarm.ts';

/** Strand alarms are about what is wound; the others are about the heat, or about what Strandward itself needs to watch, and who may use it. */
export type AlarmGroup = 'strand' | 'gauge' | 'link' | 'heat' | 'record';

/** Properties of an alarm type. Delays and deadbands are common practice, no source, unless noted. */
export interface AlarmEntry {
  readonly group: AlarmGroup;
  readonly priority: Priority;
  /** Two or three words; `titleOf` puts the zone's name before them. */
  readonly title: string;
  /** How long the condition must hold before the alarm is raised, s. */
  readonly onDelayS: number;
  /**
   * How long the condition must be gone before the alarm returns to normal, s. At least 30 s, so that no alarm can clear three
   * times in a minute (chattering, EEMUA 191).
   */
  readonly offDelayS: number;
  /** The alarm returns only this far on the good side of its limit; null = the condition has no measured value. */
  readonly deadband: { readonly value: number; readonly unit: string } | null;
  /** The alarm stays after its condition is gone, until a user has acknowledged and reset it. */
  readonly latching: boolean;
  /** What happens if the alarm is ignored. */
  readonly consequence: string;
  readonly firstCheck: string;
  readonly caution: string;
  /** Larger is worse: the alarm keeps the facts of its worst moment. null = it shows the latest facts. */
  readonly badness: ((facts: ConditionFacts) => number) | null;
}

const HEAT_CAUTION =
  'Switch the heater off at its plug, not by software: Strandward cannot switch anything off. Do not rely on it in place of an independent over-temperature cut-out. Let it cool before you touch it; mains wiring is for a licensed electrician under your local codes.';
const HOT_AND_MOVING =
  'Hot strand and moving rollers: keep fingers, hair and sleeves away, and use a tool to pull the strand.';
const SCREW_CAUTION =
  'Stop the motor at the machine itself: Strandward cannot stop anything. Keep your hands out of hopper and screw until its plug is pulled.';
const UNWATCHED_CAUTION =
  'No one is watching the heat now. If you cannot look yourself, switch the extruder off at its plug; Strandward cannot switch anything off.';

const thickest = (f: ConditionFacts) => f.diameterMm ?? 0;
const thinnest = (f: ConditionFacts) => -(f.diameterMm ?? Number.POSITIVE_INFINITY);
const longest = (f: ConditionFacts) => f.lengthMm ?? 0;
const longestTime = (f: ConditionFacts) => f.forS ?? 0;
const hottest = (f: ConditionFacts) => f.temperatureC ?? Number.NEGATIVE_INFINITY;

export type Catalogue = Readonly<Record<AlarmType, AlarmEntry>>;

/** Defaults of every alarm type: priority, delays and advice. */
export const CATALOGUE: Catalogue = {
  blob: {
    group: 'strand',
    priority: 'high',
    title: 'Blob',
    onDelayS: 0,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'It will jam the hotend during a print.',
    firstCheck:
      'Cut it out before it reaches the winder, or cut it out later: its place is marked. If more follow, check that the feed is dry, sieved and free of metal.',
    caution: HOT_AND_MOVING,
    badness: thickest,
  },
  blobInDoubt: {
    group: 'strand',
    priority: 'medium',
    title: 'Possible blob',
    onDelayS: 0,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'It may be a blob that would jam the hotend during a print.',
    firstCheck: 'Look before you cut: is the strand thicker there, or did the gauge send a wrong reading?',
    caution: HOT_AND_MOVING,
    badness: thickest,
  },
  neck: {
    group: 'strand',
    priority: 'medium',
    title: 'Thin spot',
    onDelayS: 0,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: "The printer's drive gear will slip there, and the strand may break on the spool.",
    firstCheck: 'Does the hopper feed evenly, without bridging? Does the puller hold its speed?',
    caution: HOT_AND_MOVING,
    badness: thinnest,
  },
  offTolerance: {
    group: 'strand',
    priority: 'medium',
    title: 'Out of tolerance',
    onDelayS: 0,
    // Strand that wanders across the tolerance would call every minute: at most one alarm in ten (EEMUA 191).
    offDelayS: 600,
    deadband: null,
    latching: false,
    consequence: 'Prints from this stretch will show bands, or too much or too little flow.',
    firstCheck: 'Are the temperatures steady? Is the hopper full? Does the puller hold its speed?',
    caution: HOT_AND_MOVING,
    badness: longest,
  },
  strandLost: {
    group: 'strand',
    priority: 'high',
    title: 'Strand lost',
    onDelayS: 1,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'No more strand reaches the spool, and melt piles up at the die.',
    firstCheck: 'Is there strand between die and gauge? Thread it again, and check that the hopper is not empty.',
    caution: HOT_AND_MOVING,
    badness: longestTime,
  },
  spoolFull: {
    group: 'strand',
    priority: 'high',
    title: 'Spool full or nearly full',
    // A speed that varies for a moment does not fill a spool.
    onDelayS: 10,
    offDelayS: 60,
    deadband: { value: 60, unit: 's' },
    latching: false,
    consequence: 'Strand falls off the spool over its flange and tangles, or jams the winder.',
    firstCheck:
      'Change to an empty spool before strand falls over the flange. If the spool has more room than this says, correct its dimensions in Set-up.',
    caution: HOT_AND_MOVING,
    badness: null,
  },
  wantedReached: {
    group: 'strand',
    priority: 'medium',
    title: 'Wanted amount reached',
    onDelayS: 0,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'More strand is wound than you wanted.',
    firstCheck: 'Change the spool or stop the line. To go on, enter a larger amount, or none.',
    caution: HOT_AND_MOVING,
    badness: null,
  },
  gaugeFrozen: {
    group: 'gauge',
    priority: 'high',
    title: 'Gauge frozen',
    onDelayS: 0,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'Blobs will not be detected.',
    firstCheck:
      'Does the diameter on the page change when you move the strand in the gauge? Check its plug and its light.',
    caution: '',
    badness: longestTime,
  },
  gaugeMissing: {
    group: 'gauge',
    priority: 'high',
    title: 'No diameter',
    // The condition itself waits for 3 s.
    onDelayS: 0,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'Blobs will not be detected.',
    firstCheck: 'Is the gauge plugged in and sending? Do its name and unit in Set-up match what it sends now?',
    caution: '',
    badness: longestTime,
  },
  lengthContradicted: {
    group: 'gauge',
    priority: 'medium',
    title: 'Length and speed disagree',
    onDelayS: 2,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'Places on the spool are wrong: a blob is not where the cut list says.',
    firstCheck:
      'Does the measuring roller turn without slipping? Do the factors of len and v in Set-up give mm and mm/s? Measure a metre of strand with a tape.',
    caution: HOT_AND_MOVING,
    badness: null,
  },
  gaugeBlind: {
    group: 'gauge',
    priority: 'high',
    title: 'Gauge range too small',
    onDelayS: 0,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'Blobs will not be detected.',
    firstCheck:
      'Is the gauge set for this diameter, and is its factor in Set-up right? Does thicker strand fit through its window?',
    caution: '',
    badness: null,
  },
  lineSilent: {
    group: 'link',
    priority: 'high',
    title: 'No data',
    // The condition itself waits for 3 s.
    onDelayS: 0,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'Neither the strand nor the heat is being watched.',
    firstCheck: 'Is the cable plugged in and the microcontroller powered? Is another program using the port?',
    caution: UNWATCHED_CAUTION,
    badness: longestTime,
  },
  lineGarbled: {
    group: 'link',
    priority: 'medium',
    title: 'Garbled lines',
    onDelayS: 5,
    offDelayS: 30,
    deadband: { value: 5, unit: '% of the lines' },
    latching: false,
    consequence: 'Readings are missing, so short blobs may not be detected.',
    firstCheck: 'Keep the cable away from heater wires and motors, or use a shorter one.',
    caution: '',
    badness: (f) => f.count ?? 0,
  },
  signalsChanged: {
    group: 'link',
    priority: 'high',
    title: 'Signals changed',
    // The condition itself waits for 1 s.
    onDelayS: 1,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'A signal whose name is not understood is not watched.',
    firstCheck: 'Does the board run another sketch? Say in Set-up what each name stands for.',
    caution: UNWATCHED_CAUTION,
    badness: null,
  },
  deviceRestarted: {
    group: 'link',
    priority: 'low',
    title: 'Microcontroller restarted',
    onDelayS: 0,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'A second or two was not measured, and a length counter starts at zero again.',
    firstCheck: 'Is its power supply steady? Is the plug firm? Repeated restarts point to the power supply.',
    caution: '',
    badness: null,
  },
  sensorOpen: {
    group: 'heat',
    priority: 'high',
    title: 'sensor open',
    onDelayS: 1,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'The controller no longer knows this temperature. A bad controller may keep heating.',
    firstCheck:
      "Unplug the heater. Then check the sensor's plug and wires: one is broken or, with a Pt100, two may touch.",
    caution: HEAT_CAUTION,
    badness: null,
  },
  sensorShort: {
    group: 'heat',
    priority: 'high',
    title: 'sensor shorted',
    onDelayS: 1,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'The controller no longer knows this temperature. A bad controller may keep heating.',
    firstCheck:
      "Unplug the heater. Then check the sensor's wires: they touch each other or the barrel or, with a Pt100 or a thermocouple, one may be broken.",
    caution: HEAT_CAUTION,
    badness: null,
  },
  heaterNoRise: {
    group: 'heat',
    priority: 'high',
    title: 'not warming up as it should',
    onDelayS: 1,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence:
      'The zone stays cold, and a screw that turns against a cold plug breaks. If the sensor is not in the zone, the zone overheats.',
    firstCheck:
      'Unplug the heater. Then check that the sensor sits firmly in its hole, and check heater, fuse and relay.',
    caution: HEAT_CAUTION,
    badness: null,
  },
  heaterLosingTemperature: {
    group: 'heat',
    priority: 'high',
    title: 'losing temperature',
    onDelayS: 1,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'The strand gets worse and the screw may jam. If the sensor slipped out, the zone overheats.',
    firstCheck:
      'Unplug the heater. Then check that the sensor sits firmly in its hole, and check heater, fuse and relay.',
    caution: HEAT_CAUTION,
    badness: null,
  },
  heaterRisingWithoutPower: {
    group: 'heat',
    priority: 'high',
    title: 'heating with power off',
    onDelayS: 1,
    offDelayS: 30,
    deadband: null,
    latching: true,
    consequence: 'The zone keeps heating: burning plastic, fumes, fire.',
    firstCheck: 'Go there now and unplug the heater. A relay or solid-state switch may be stuck on.',
    caution: HEAT_CAUTION,
    badness: null,
  },
  zoneAboveAbsoluteLimit: {
    group: 'heat',
    priority: 'high',
    title: 'above the limit',
    onDelayS: 1,
    offDelayS: 30,
    deadband: { value: 3, unit: '°C' },
    latching: true,
    consequence: 'Burning plastic, fumes, fire.',
    firstCheck: 'Go there now and unplug the heater.',
    caution: HEAT_CAUTION,
    badness: hottest,
  },
  sensorFrozen: {
    group: 'heat',
    priority: 'high',
    title: 'reading frozen',
    onDelayS: 1,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'The controller follows a wrong temperature, so the zone may overheat.',
    firstCheck: 'Unplug the heater. If the reading does not fall within minutes, check the sensor and its converter.',
    caution: HEAT_CAUTION,
    badness: null,
  },
  sensorJumping: {
    group: 'heat',
    priority: 'medium',
    title: 'reading jumps',
    onDelayS: 0,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'The controller cannot hold the zone steady.',
    firstCheck: "Are the sensor's clamp and plug firm? Keep its wires away from heater and motor wires.",
    caution: HEAT_CAUTION,
    badness: null,
  },
  sensorSlipped: {
    group: 'heat',
    priority: 'high',
    title: 'sensor slipped out',
    onDelayS: 1,
    offDelayS: 30,
    deadband: null,
    latching: true,
    consequence:
      'The controller keeps heating because the sensor no longer feels the zone: burning plastic, fumes, fire.',
    firstCheck: 'Go there now and unplug the heater. Only then check whether the sensor sits firmly in its hole.',
    caution: HEAT_CAUTION,
    badness: null,
  },
  heaterWeak: {
    group: 'heat',
    priority: 'medium',
    title: 'weaker than learnt',
    onDelayS: 1,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence:
      'The zone heats slowly and may not hold its temperature once material is fed. If its sensor is loose, it is hotter than it reads.',
    firstCheck:
      'Does the sensor sit firmly in its hole? Do all heaters of the zone get warm? Are their clamps tight? Is a fan blowing at it?',
    caution: HEAT_CAUTION,
    badness: null,
  },
  zoneLate: {
    group: 'heat',
    priority: 'medium',
    title: 'set-point not reached',
    onDelayS: 1,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'The line may never get hot enough to start.',
    firstCheck: 'Is the set-point right? Do all heaters of the zone get warm? Is a fan or a draught cooling it?',
    caution: HEAT_CAUTION,
    badness: null,
  },
  zoneOscillating: {
    group: 'heat',
    priority: 'low',
    title: 'oscillating',
    onDelayS: 1,
    offDelayS: 120,
    deadband: null,
    latching: false,
    consequence: 'The diameter swings with it.',
    firstCheck: 'Tune the controller less aggressively. Make sure that the sensor touches the bottom of its hole.',
    caution: HEAT_CAUTION,
    badness: null,
  },
  zoneDrifting: {
    group: 'heat',
    priority: 'medium',
    title: 'stays off its set-point',
    onDelayS: 1,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'The strand changes slowly, and the cause may get worse.',
    firstCheck:
      'Is its power stuck at 0 or 100 %? Check heater, clamp, insulation and fans, then the controller. Too hot without power: check whether its switch is stuck on, whether a neighbour or the screw heats it, and its sensor.',
    caution: HEAT_CAUTION,
    badness: null,
  },
  coldScrew: {
    group: 'heat',
    priority: 'high',
    title: 'Cold start of the screw',
    onDelayS: 2,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'A cold plug breaks the screw, its gears or its motor.',
    firstCheck: 'Stop the screw, and wait until every zone has soaked at its set-point.',
    caution: SCREW_CAUTION,
    badness: null,
  },
  hotStanding: {
    group: 'heat',
    priority: 'medium',
    title: 'Idle while hot',
    onDelayS: 0,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'The material chars, sheds black specks into the strand for hours, and gives off fumes.',
    firstCheck: 'Turn the screw and purge, lower the set-points, or switch the heaters off.',
    caution: HEAT_CAUTION,
    badness: longestTime,
  },
  recordFailing: {
    group: 'record',
    priority: 'high',
    title: 'Recording failed',
    onDelayS: 2,
    offDelayS: 30,
    deadband: null,
    latching: false,
    consequence: 'What happens now will be missing from the record, and marked stretches are not kept.',
    firstCheck: 'Is the disk full or read-only?',
    caution: '',
    badness: null,
  },
  diskFilling: {
    group: 'record',
    priority: 'medium',
    title: 'Disk nearly full',
    onDelayS: 10,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'Once it is full, nothing more can be recorded. Watching and alarms continue.',
    firstCheck: 'Free some space on the disk, or delete old single readings (Set-up, The record).',
    caution: '',
    badness: null,
  },
  recordDamaged: {
    group: 'record',
    priority: 'medium',
    title: 'Record damaged',
    onDelayS: 0,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'What is damaged is lost, and a failing card or disk will lose more.',
    firstCheck:
      'Enter again what People says cannot be read. For anything else keep the older backups: make a new one in another folder, preferably on another disk. Then restore one from before the fault, or check the record again (Set-up, The record).',
    caution: '',
    badness: null,
  },
  runDatedWrong: {
    group: 'record',
    priority: 'medium',
    title: 'Date of the run is wrong',
    onDelayS: 2,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'Its readings, alarms and log have that date until you correct it. Lengths and durations are right.',
    firstCheck: 'When the run has ended, open its page and move it to the right date, or keep its date.',
    caution: '',
    badness: null,
  },
  keysGuessed: {
    group: 'record',
    priority: 'medium',
    title: 'Key is being guessed',
    onDelayS: 0,
    offDelayS: 60,
    deadband: null,
    latching: false,
    consequence: 'Whoever finds the key or a code can change everything here.',
    firstCheck:
      'Find the device with that address, and switch it off. Remove every device that you do not know from the list (Set-up, Devices). Change the access key, or start without one.',
    caution: '',
    badness: null,
  },
};

/** Heat alarms that do not belong to a single zone. */
const OF_THE_WHOLE_LINE: ReadonlySet<AlarmType> = new Set(['coldScrew', 'hotStanding']);

/** Whether each zone has a separate alarm of this type. */
export function isOfZone(type: AlarmType): boolean {
  return CATALOGUE[type].group === 'heat' && !OF_THE_WHOLE_LINE.has(type);
}

/** Not about this machine's own record, or who may use it. */
export function isAboutTheLine(type: AlarmType): boolean {
  return CATALOGUE[type].group !== 'record';
}

/** "Blob", "Zone 2 (Die): not warming up as it should". */
export function titleOf(alarm: { readonly type: AlarmType; readonly facts: ConditionFacts }): string {
  const { title } = CATALOGUE[alarm.type];
  const { zone, zoneName } = alarm.facts;
  if (!isOfZone(alarm.type)) return title;
  const which = zone === undefined ? 'Zone' : `Zone ${zone}${zoneName ? ` (${zoneName})` : ''}`;
  return `${which}: ${title}`;
}

/**
 * Whether an alarm type means anything in a stage. While purging, the strand is not expected to be good; while heating or
 * stopped, there is none. Link, heat and record are always watched.
 */
export function appliesIn(type: AlarmType, stage: Stage): boolean {
  switch (CATALOGUE[type].group) {
    case 'strand':
      return stage === 'winding';
    case 'gauge':
      return stage === 'winding' || stage === 'purging';
    default:
      return true;
  }
}

/** Clause that gives a stage as the reason for a suppression. */
export function whileInStage(stage: Stage): string {
  return STAGE_CLAUSES[stage];
}

const STAGE_CLAUSES: Readonly<Record<Stage, string>> = {
  stopped: 'while the line is stopped',
  heating: 'while the line heats up',
  purging: 'while purging',
  winding: 'while winding',
};
