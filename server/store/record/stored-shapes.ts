import { type Static, type TSchema, Type } from 'typebox';
import { Compile } from 'typebox/compile';
import { ALARM_STATES, ALARM_STEPS, ALARM_TYPES, type Alarm, type AlarmStep, PRIORITIES } from '../../alarm/alarm.ts';
import { isHouseCode } from '../../entities/house.ts';
import type { RunSettings } from '../../entities/run.ts';
import { FEEDING_ENDS, type StrandUse, USE_KINDS, USE_UNITS } from '../../entities/strand-use.ts';
import { checkedValues, type Values } from '../../preparation/fields.ts';
import { nestsDeeper } from '../../problem/nesting.ts';
import { STAGES } from '../../stage/stage.ts';
import { DECISIONS, DOUBTS, MEASURED_KINDS, type MeasuredSection, VERDICTS } from '../../strand/section.ts';
import { TOLERANCE_MIN_MM } from '../../strand/strand-limits.ts';
import { PRINT_AMOUNT_MAX } from '../../strand/verdict/print-fit.ts';
import { checkPrinterProfile } from '../../strand/verdict/printer-profile.ts';
import { FITNESSES } from '../../strand/verdict/spool-verdict.ts';
import { LENGTH_MM_MAX, TIME_MS_MAX } from '../bounds.ts';

/**
 * What a stored row must hold, whoever wrote it: our own service, a failing disk, or the maker of an archive. Rows are
 * checked by these when they are read, and those of an archive also before they are imported.
 */

export const TEXT_MAX = 20_000;

/** As of a reading; the number of an alarm’s occurrence may be a time. */
const VALUE_MAX = 1e15;
const value = () => Type.Number({ minimum: -VALUE_MAX, maximum: VALUE_MAX });
const diameter = () => Type.Number({ minimum: 0, maximum: 1000 });
const lengthMm = () => Type.Number({ minimum: -LENGTH_MM_MAX, maximum: LENGTH_MM_MAX });
const timeMs = () => Type.Number({ minimum: 0, maximum: TIME_MS_MAX });
const shortText = () => Type.String({ maxLength: TEXT_MAX });
const count = () => Type.Integer({ minimum: 0, maximum: Number.MAX_SAFE_INTEGER });
const orNull = <T extends TSchema>(schema: T) => Type.Union([schema, Type.Null()]);
const oneOf = <const T extends readonly string[]>(values: T) =>
  Type.Unsafe<T[number]>({ type: 'string', enum: [...values] });

const runSettings = Compile(
  Type.Object({
    limits: Type.Object({
      nominalMm: diameter(),
      toleranceMm: Type.Number({ minimum: TOLERANCE_MIN_MM, maximum: 1000 }),
      hotendLimitMm: diameter(),
      smallestFeedableMm: diameter(),
      strandPresentMm: diameter(),
      offToleranceLengthMm: lengthMm(),
      gaugeUncertaintyMm: diameter(),
      gaugeApertureMm: Type.Optional(diameter()),
      gaugeAveragingMs: Type.Optional(value()),
    }),
    gaugeToWinderMm: lengthMm(),
    densityGPerCm3: Type.Number({ exclusiveMinimum: 0, maximum: 100 }),
    detectorVersion: Type.Optional(count()),
  }),
);

const section = Compile(
  Type.Object({
    ordinal: Type.Integer({ minimum: 1 }),
    kind: oneOf(MEASURED_KINDS),
    fromMm: lengthMm(),
    toMm: lengthMm(),
    fromTimeMs: timeMs(),
    toTimeMs: timeMs(),
    peakMm: orNull(value()),
    peakAtMm: orNull(lengthMm()),
    volumeBeyondMm3: orNull(value()),
    certainty: oneOf(['sure', 'inDoubt']),
    doubt: Type.Optional(oneOf(DOUBTS)),
    verdict: oneOf(VERDICTS),
    open: Type.Boolean(),
  }),
);

const FACTS_IN_WORDS = ['zoneName', 'text'] as const;
const FACTS_IN_NUMBERS = [
  'zone',
  'diameterMm',
  'limitMm',
  'lengthMm',
  'runId',
  'gaugeMm',
  'fromGaugeMm',
  'spoolMm',
  'spoolOrdinal',
  'fromSpoolMm',
  'reachesWinderInS',
  'temperatureC',
  'setpointC',
  'limitC',
  'power',
  'forS',
  'count',
  'occurrence',
] as const;
const facts = Object.fromEntries([
  ...FACTS_IN_WORDS.map((name) => [name, Type.Optional(shortText())]),
  // An infinite number is stored as null.
  ...FACTS_IN_NUMBERS.map((name) => [name, Type.Optional(orNull(value()))]),
]);

const alarm = Compile(
  Type.Object({
    id: Type.Integer(),
    type: oneOf(ALARM_TYPES),
    subject: shortText(),
    priority: oneOf(PRIORITIES),
    state: oneOf(ALARM_STATES),
    sentence: shortText(),
    // Alarms of the first releases lack some fields (`alarmOf` adds them).
    consequence: Type.Optional(shortText()),
    firstCheck: shortText(),
    caution: shortText(),
    occurrences: count(),
    raisedMs: timeMs(),
    lastOccurredMs: timeMs(),
    returnedMs: orNull(timeMs()),
    ceasedMs: Type.Optional(orNull(timeMs())),
    acknowledgedMs: orNull(timeMs()),
    acknowledgedBy: orNull(shortText()),
    suppression: Type.Optional(
      orNull(
        Type.Object({
          sinceMs: timeMs(),
          untilMs: orNull(timeMs()),
          untilRunEnds: Type.Boolean(),
          reason: shortText(),
          by: orNull(shortText()),
          from: orNull(shortText()),
          before: oneOf(ALARM_STATES),
          occurred: count(),
        }),
      ),
    ),
    facts: Type.Object(facts),
  }),
);

/** More than any row has. */
const LEVELS_MAX = 12;

interface Validator {
  Check(value: unknown): boolean;
  Errors(value: unknown): readonly { readonly instancePath: string; readonly message: string }[];
}

/** @throws Error that names the field */
export function requireShape(shape: Validator, stored: unknown): void {
  // A field that this version does not know would fail when it is written again.
  if (nestsDeeper(stored, LEVELS_MAX)) throw new Error('it is nested too deeply');
  if (shape.Check(stored)) return;
  const [first] = shape.Errors(stored);
  throw new Error(`${first?.instancePath || 'it'} ${first?.message ?? 'is not valid'}`);
}

/** @throws Error if the JSON is not what it should be */
export function runSettingsOf(payload: string): Omit<RunSettings, 'fromGaugeMm'> {
  const stored = JSON.parse(payload);
  requireShape(runSettings, stored);
  // Strand is judged by these limits as by those of a printer, so each list would fail at them.
  checkPrinterProfile({ name: 'of this run', ...stored.limits }, stored.limits.nominalMm);
  return stored;
}

/** @throws Error if the JSON is not what it should be */
export function measuredSectionOf(payload: string): MeasuredSection {
  const stored = JSON.parse(payload);
  requireShape(section, stored);
  return stored;
}

/**
 * Alarms stored by the first releases lack the fields that were added later.
 * @throws Error if the JSON is not what it should be
 */
export function alarmOf(payload: string): Alarm {
  const stored = JSON.parse(payload);
  requireShape(alarm, stored);
  return { consequence: '', ceasedMs: null, suppression: null, ...stored };
}

/** @throws Error for a step that does not exist */
export function alarmStepOf(what: string): AlarmStep {
  const step = ALARM_STEPS.find((one) => one === what);
  if (step === undefined) throw new Error(`“${what.slice(0, 40)}” is not a step of an alarm`);
  return step;
}

/** @throws Error that names the first column with a number that it cannot hold: ms are times, mm lengths that a line can count to */
export function requireUnits(row: object): void {
  for (const [name, value] of Object.entries(row)) {
    const [isTimeMs, isLengthMm] = [/(_ms|Ms)$/.test(name), /(_mm|Mm)$/.test(name)];
    if (value === null || !(typeof value === 'number' || isTimeMs || isLengthMm)) continue;
    if (!Number.isFinite(value)) throw new Error(`${name} is not a finite number`);
    if (isTimeMs && !isTime(Number(value))) throw new Error(`${name} is not a time`);
    if (isLengthMm && Math.abs(Number(value)) > LENGTH_MM_MAX) throw new Error(`${name} is not a length of strand`);
  }
}

export function isTime(ms: number): boolean {
  return ms >= 0 && ms <= TIME_MS_MAX;
}

const prints = Compile(
  Type.Array(
    Type.Object({
      amount: Type.Number({ exclusiveMinimum: 0, maximum: PRINT_AMOUNT_MAX }),
      unit: oneOf(['grams', 'metres']),
    }),
    { maxItems: 10 },
  ),
);

const preparation = Compile(Type.Record(Type.String(), Type.Union([Type.Number(), Type.String(), Type.Boolean()])));

/** @throws Error if the JSON is not what it should be */
export function preparationOf(fields: string): Values {
  const stored = JSON.parse(fields);
  requireShape(preparation, stored);
  return checkedValues(stored);
}

const movedRowsShape = Type.Object({
  /** By table, the last row that was moved. */
  rows: Type.Record(Type.String(), count()),
  /** How far the alarms have been moved; null = all were. */
  moving: orNull(
    Type.Object({
      byMs: value(),
      /** The last step of the journal that was moved. */
      after: count(),
      /** The run was moved back, so that nothing is to be remembered. */
      back: Type.Boolean(),
    }),
  ),
});
const movedRows = Compile(movedRowsShape);
/** What is remembered of a run whose date was corrected. */
export type MovedRows = Static<typeof movedRowsShape>;

/** @throws Error if the JSON is not what it should be */
export function movedRowsOf(json: string): MovedRows {
  const stored = JSON.parse(json);
  requireShape(movedRows, stored);
  return stored;
}

const amount = () => orNull(Type.Number({ exclusiveMinimum: 0, maximum: PRINT_AMOUNT_MAX }));
const strandUseRow = Type.Object({
  kind: oneOf(USE_KINDS),
  from_gauge_mm: lengthMm(),
  to_gauge_mm: lengthMm(),
  feeds: oneOf(FEEDING_ENDS),
  used_amount: amount(),
  used_unit: orNull(oneOf(USE_UNITS)),
  print_amount: amount(),
  print_unit: orNull(oneOf(['metres', 'grams'])),
  printer: orNull(shortText()),
  called: orNull(oneOf(FITNESSES)),
  at_ms: timeMs(),
  who: shortText(),
});
const strandUse = Compile(strandUseRow);
export type StrandUseRow = Static<typeof strandUseRow>;

/** @throws Error if the row is not what it should be */
export function strandUseOf(row: StrandUseRow, id: number): StrandUse {
  requireShape(strandUse, row);
  const { kind, feeds, printer, called, who } = row;
  const { used_amount: used, used_unit: usedUnit, print_amount: print, print_unit: printUnit } = row;
  if (row.to_gauge_mm < row.from_gauge_mm) throw new Error('to_gauge_mm is before from_gauge_mm');
  if ((used === null) !== (usedUnit === null || usedUnit === 'all'))
    throw new Error('used_unit does not fit its amount');
  if (usedUnit === 'percent' && Number(used) > 100) throw new Error('used_amount is above 100 per cent');
  if ((print === null) !== (printUnit === null)) throw new Error('print_unit does not fit its amount');
  return {
    id,
    kind,
    place: { fromGaugeMm: row.from_gauge_mm, toGaugeMm: row.to_gauge_mm },
    feeds,
    used: usedUnit === 'all' ? { unit: usedUnit } : usedUnit && { amount: Number(used), unit: usedUnit },
    print: printUnit && { amount: Number(print), unit: printUnit },
    printer,
    called,
    atMs: row.at_ms,
    who,
  };
}

/** The columns that hold one of several words. */
const WORDS: ReadonlyMap<string, readonly string[]> = new Map<string, readonly string[]>([
  ['run.stage_word', STAGES],
  ['measured_section.kind', MEASURED_KINDS],
  ['measured_section.verdict', VERDICTS],
  ['stated_section.verdict', VERDICTS],
  ['stated_section.about_kind', MEASURED_KINDS],
  ['stated_section.decision', DECISIONS],
  ['cut.action', ['keep', 'discard']],
  ['spool.wanted_unit', ['metres', 'grams']],
]);

/** Far more than by tape, which is checked more strictly when it is entered. */
const FACTOR_MAX = 100;
/** Names of reading lines are shorter. An export repeats them for each reading. */
const SIGNAL_TEXT_MAX = 200;

type StoredRow = Readonly<Record<string, unknown>>;

/** What the columns of a table must hold beyond their types and units. */
const ROW_CHECKS: ReadonlyMap<string, (row: StoredRow) => void> = new Map<string, (row: StoredRow) => void>([
  [
    'run',
    ({ time_zone: timeZone, ...row }) => {
      requireOrder(row, 'started_ms', 'ended_ms');
      for (const name of ['clock_ahead_s', 'moved_by_s'])
        if (!(Math.abs(Number(row[name])) * 1000 <= TIME_MS_MAX))
          throw new Error(`${name} is not a difference of times`);
      if (row.house !== null && !isHouseCode(String(row.house))) throw new Error('house is not the code of a house');
      if (row.house !== null && row.house_run === null) throw new Error('house_run is missing');
      if (row.house_run !== null && !(Number(row.house_run) >= 1)) throw new Error('house_run is below 1');
      // The engine refuses a zone that it does not know.
      new Intl.DateTimeFormat('en', { timeZone: String(timeZone) });
    },
  ],
  [
    'spool',
    ({ ordinal, ...row }) => {
      if (Number(ordinal) < 1) throw new Error('ordinal is below 1');
      requireOrder(row, 'start_gauge_mm', 'end_gauge_mm');
    },
  ],
  ['run_set', ({ payload }) => void runSettingsOf(String(payload))],
  ['measured_section', ({ payload }) => void measuredSectionOf(String(payload))],
  ['alarm', ({ payload }) => void alarmOf(String(payload))],
  [
    'alarm_journal',
    ({ what, payload }) => {
      alarmStepOf(String(what));
      alarmOf(String(payload));
    },
  ],
  ['lot', ({ fields }) => void preparationOf(String(fields))],
  ['strand_use', (row) => void strandUseOf(row as unknown as StrandUseRow, 0)],
  [
    'spool_choice',
    ({ prints: stored, shortest_mm: shortest }) => {
      if (shortest !== null) requireAbove(0, 'shortest_mm', shortest);
      requireShape(prints, JSON.parse(String(stored)));
    },
  ],
  // A row without values takes the measurement back.
  [
    'length_correction',
    ({ measured_mm: measured, indicated_mm: indicated, uncertainty_mm: uncertainty }) => {
      if (measured === null || indicated === null || uncertainty === null) return;
      requireAbove(0, 'measured_mm', measured);
      requireAbove(0, 'indicated_mm', indicated);
      requireAbove(0, 'uncertainty_mm', uncertainty);
      const factor = Number(measured) / Number(indicated);
      if (!(factor >= 1 / FACTOR_MAX && factor <= FACTOR_MAX)) throw new Error('measured_mm does not fit indicated_mm');
    },
  ],
  [
    'spool_weighing',
    ({ gross_g: gross, tare_g: tare, uncertainty_g: uncertainty }) => {
      if (gross === null || tare === null || uncertainty === null) return;
      requireAbove(Number(tare), 'gross_g', gross);
      if (!(Number(uncertainty) >= 0)) throw new Error('uncertainty_g is below 0');
      for (const mass of [gross, tare, uncertainty])
        if (!(Math.abs(Number(mass)) <= VALUE_MAX)) throw new Error('its masses are out of bounds');
    },
  ],
  [
    'sample_channel',
    (row) => {
      for (const name of ['name', 'unit'])
        if (String(row[name]).length > SIGNAL_TEXT_MAX) throw new Error(`${name} is too long for a signal`);
    },
  ],
]);

/** @throws Error if a row of the table does not hold what it should */
export function checkStored(table: string, row: object): void {
  requireUnits(row);
  for (const [name, value] of Object.entries(row)) {
    const words = WORDS.get(`${table}.${name}`);
    if (words !== undefined && value !== null && !words.includes(String(value))) throw new Error(`${name} is unknown`);
  }
  ROW_CHECKS.get(table)?.(row as StoredRow);
}

function requireOrder(row: StoredRow, from: string, to: string): void {
  const end = row[to];
  if (end !== null && Number(end) < Number(row[from])) throw new Error(`${to} is before ${from}`);
}

function requireAbove(least: number, name: string, value: unknown): void {
  if (!(Number(value) > least)) throw new Error(`${name} is not above ${least}`);
}
