import { type Static, Type } from 'typebox';
import { ZONE_COUNT_MAX } from '../reading/names.ts';
import { SHAPES, type Shape } from '../reading/shape.ts';
import { TOLERANCE_MIN_MM } from '../strand/strand-limits.ts';

const COMMON = 'common practice, no source';

/** The source of a line that is not watched until a user chooses one. */
export const NO_SOURCE = 'none';

/** Settings of the line and its printer. Stored in the database and edited on the set-up page. */
export const LineSettings = Type.Object(
  {
    lineName: Type.String({
      minLength: 1,
      maxLength: 60,
      title: 'Name of the line',
      default: 'Bench line',
    }),
    source: Type.String({
      title: 'Source of the reading lines',
      description:
        'simulator:SCENARIO, serial:PATH?baud=115200, tcp:HOST:PORT or file:PATH?pace=1. Empty = the simulator until a real line has been watched, then none; none = no source.',
      default: '',
      maxLength: 500,
    }),
    nominalMm: Type.Number({
      minimum: 0.5,
      maximum: 5,
      title: 'Nominal diameter, mm',
      default: 1.75,
    }),
    toleranceMm: Type.Number({
      minimum: TOLERANCE_MIN_MM,
      maximum: 1,
      title: 'Tolerance, ± mm',
      description: `${COMMON}: ±0.05 usual, ±0.03 good`,
      default: 0.05,
    }),
    hotendLimitMm: Type.Number({
      minimum: 0.5,
      maximum: 6,
      title: 'Hotend limit, mm',
      description: `The largest diameter that passes the printer's filament path. ${COMMON}: 1.90 for 1.75 mm filament`,
      default: 1.9,
    }),
    smallestFeedableMm: Type.Number({
      minimum: 0.1,
      maximum: 5,
      title: 'Smallest feedable diameter, mm',
      description: `Below it the drive gear slips. ${COMMON}: 1.60 for 1.75 mm filament`,
      default: 1.6,
    }),
    strandPresentMm: Type.Number({
      minimum: 0,
      maximum: 3,
      title: 'No strand below, mm',
      default: 0.5,
    }),
    offToleranceLengthMm: Type.Number({
      minimum: 1,
      maximum: 100_000,
      title: 'Out of tolerance for longer than, mm',
      default: 200,
    }),
    gaugeUncertaintyMm: Type.Number({
      minimum: 0,
      maximum: 0.5,
      title: 'Uncertainty of the gauge (k = 2), mm',
      description:
        'How far all its readings may be off together; find it with pin gauges under “What your line sends”. The noise of single readings is measured all the time',
      default: 0.005,
    }),
    gaugeApertureMm: Type.Number({
      minimum: 0,
      maximum: 50,
      title: 'Gauge: strand that it sees at once, mm',
      description:
        'Length of strand over which it averages at any instant: the width of its window. 0 = a point, or not known',
      default: 0,
    }),
    gaugeAveragingMs: Type.Number({
      minimum: 0,
      maximum: 10_000,
      title: 'Gauge: time that a reading averages, ms',
      description:
        'A reading that is the mean of several measurements hides a short blob. 0 = an instant, or not known',
      default: 0,
    }),
    gaugeToWinderMm: Type.Number({
      minimum: 0,
      maximum: 20_000,
      title: 'Path from gauge to winder, mm',
      default: 1200,
    }),
    setSpeedMmPerS: Type.Number({
      minimum: 0,
      maximum: 500,
      title: 'Set strand speed, mm/s',
      description: 'Used only where the line sends neither a length counter nor a speed',
      default: 0,
    }),
    densityGPerCm3: Type.Number({
      minimum: 0.5,
      maximum: 3,
      title: 'Density, g/cm³',
      default: 1.24,
    }),
    shortestCoilMm: Type.Number({
      minimum: 100,
      maximum: 1_000_000,
      title: 'Shortest coil worth keeping, mm',
      description: `${COMMON}: 5000`,
      default: 5000,
    }),
    spoolCoreMm: Type.Number({
      minimum: 5,
      maximum: 1000,
      title: 'Spool: diameter of the core, mm',
      description: `${COMMON}: 80 to 110 on a 200 mm spool. Measure yours`,
      default: 80,
    }),
    spoolFlangeMm: Type.Number({
      minimum: 10,
      maximum: 2000,
      title: 'Spool: diameter of the flanges, mm',
      description: `${COMMON}: 200 for about 1 kg`,
      default: 200,
    }),
    spoolWidthMm: Type.Number({
      minimum: 2,
      maximum: 1000,
      title: 'Spool: width between the flanges, mm',
      description: `${COMMON}: 45 to 65 on a 200 mm spool. Measure yours`,
      default: 55,
    }),
    windingPitchMm: Type.Number({
      minimum: 0.5,
      maximum: 50,
      title: 'Winder: pitch of the turns, mm',
      description: `From the middle of one turn to the next. ${COMMON}: a little more than the nominal diameter`,
      default: 1.9,
    }),
    wantedOnSpoolM: Type.Number({
      minimum: 0,
      maximum: 100_000,
      title: 'Wanted on each spool, m',
      description:
        'An alarm is raised when a spool holds this much. An amount entered for one spool takes precedence. 0 = none',
      default: 0,
    }),
    rollerCircumferenceMm: Type.Number({
      minimum: 0,
      maximum: 2000,
      title: 'Circumference of the puller roller, mm',
      description: 'Its run-out shows as a wave of this length. 0 = not known',
      default: 0,
    }),
    setScrewTurnsPerMin: Type.Number({
      minimum: 0,
      maximum: 1000,
      title: 'Set screw speed, 1/min',
      description: 'Used only where the line sends no screw speed: surging shows as a wave of one turn. 0 = not known',
      default: 0,
    }),
    gears: Type.Array(
      Type.Object(
        {
          name: Type.String({ minLength: 1, maxLength: 40, title: 'Name' }),
          shaft: Type.Unsafe<'screw' | 'roller'>({
            type: 'string',
            enum: ['screw', 'roller'],
            title: 'On the shaft of',
          }),
          cyclesPerTurn: Type.Number({ exclusiveMinimum: 0, maximum: 10_000, title: 'Cycles a turn' }),
        },
        { additionalProperties: false },
      ),
      {
        maxItems: 8,
        title: 'Gears and motors on the shafts of the screw and the puller roller',
        description:
          'Cycles a turn: the teeth of a gear that mesh in one turn of the shaft, or how often its motor turns in that time. A worn one shows as a wave of that share of a turn',
        default: [],
      },
    ),
    controlPeriodS: Type.Number({
      minimum: 0,
      maximum: 3600,
      title: 'Period of the diameter control, s',
      description: 'A loop that is tuned too aggressively shows as a wave of this period. 0 = not known, or no control',
      default: 0,
    }),
    settleLengthMm: Type.Number({
      minimum: 0,
      maximum: 100_000,
      title: 'Settled after, mm in tolerance',
      default: 1500,
    }),
    soakMin: Type.Number({
      minimum: 0,
      maximum: 240,
      title: 'Soak before the screw turns, min',
      default: 10,
    }),
    charAfterMin: Type.Number({
      minimum: 1,
      maximum: 240,
      title: 'Warn when hot and idle for, min after the soak',
      description: `${COMMON}: 20 for PLA at 200 °C`,
      default: 20,
    }),
    stopAfterMin: Type.Number({
      minimum: 1,
      maximum: 240,
      title: 'End the run after idle and cold, min',
      default: 10,
    }),
    absoluteLimitC: Type.Number({
      minimum: 50,
      maximum: 500,
      title: 'Over-temperature alarm, °C',
      default: 300,
    }),
    atHeatWithinC: Type.Number({
      minimum: 0.5,
      maximum: 50,
      title: 'At set-point when within, ± °C',
      default: 5,
    }),
    zoneNames: Type.Array(Type.String({ maxLength: 40 }), {
      maxItems: 8,
      title: 'Names of the zones, from the hopper',
      default: ['Feed zone', 'Melt zone', 'Die'],
    }),
    keepReadingsDays: Type.Integer({
      minimum: 0,
      maximum: 36_500,
      title: 'Keep raw readings for, days',
      description: '0 = for ever. Charts, marked stretches, alarms and notes stay in any case',
      default: 0,
    }),
    recordLimitGb: Type.Number({
      minimum: 0,
      maximum: 100_000,
      title: 'Delete the oldest raw readings above, GB',
      description: '0 = no limit',
      default: 0,
    }),
    freeSpaceAlarmGb: Type.Number({
      minimum: 0,
      maximum: 100_000,
      title: 'Low-disk alarm below, GB',
      default: 0.5,
    }),
    backupEveryDays: Type.Number({
      minimum: 0,
      maximum: 365,
      title: 'Make a backup every, days',
      description: '0 = only when asked. Needs a backup folder, which is given at start: --backup FOLDER',
      default: 1,
    }),
    backupsKept: Type.Integer({
      minimum: 1,
      maximum: 1000,
      title: 'Backups to keep',
      default: 7,
    }),
    shape: Type.Unsafe<'auto' | Shape>({
      type: 'string',
      enum: ['auto', ...SHAPES],
      title: 'Format of the reading lines',
      default: 'auto',
    }),
    checksum: Type.Unsafe<'auto' | 'required'>({
      type: 'string',
      enum: ['auto', 'required'],
      title: 'Checksum',
      default: 'auto',
    }),
    setpointsC: Type.Array(Type.Union([Type.Number({ minimum: 0, maximum: 500 }), Type.Null()]), {
      maxItems: ZONE_COUNT_MAX,
      title: 'Set-points of the zones, °C',
      description: 'Used only for zones whose set-point the line does not send, to tell when they are at temperature',
      default: [],
    }),
    pathMeasured: Type.Boolean({
      title: 'The path from gauge to winder was measured',
      description: 'Until then it is the usual one, and positions on the spool may be off by the difference',
      default: false,
    }),
    columnNames: Type.Array(Type.String({ minLength: 1, maxLength: 40 }), {
      maxItems: 64,
      title: 'Names of the columns, for bare numbers without a header',
      default: [],
    }),
    pointedAt: Type.Array(Type.String({ minLength: 1, maxLength: 40, pattern: '^[^\\s\\d:=]+$' }), {
      maxItems: 32,
      uniqueItems: true,
      title: 'Read only the numbers after these words',
      description:
        'For lines whose other words change all the time, which are read as free text. Give words without blanks or digits; with none, all numbers are read.',
      default: [],
    }),
    roles: Type.Array(
      Type.Object(
        {
          name: Type.String({
            minLength: 1,
            maxLength: 40,
            title: 'Name in the data',
          }),
          role: Type.String({ minLength: 1, maxLength: 40, title: 'Role' }),
          factor: Type.Number({ default: 1, title: 'Factor' }),
          offset: Type.Number({ default: 0, title: 'Offset' }),
          unit: Type.Optional(
            Type.String({
              maxLength: 12,
              title: 'Unit',
              description:
                'Unit of the value after factor and offset; left out = that of the role. For a strand speed in rpm the factor is the diameter of the puller wheel, mm',
            }),
          ),
          calibrated: Type.Optional(
            Type.Boolean({
              title: 'Calibrated',
              description: 'Factor and offset were measured, even if they are exactly 1 and 0',
            }),
          ),
        },
        { additionalProperties: false },
      ),
      {
        maxItems: 64,
        title: 'Signals: value = raw × factor + offset',
        default: [],
      },
    ),
    unusedFields: Type.Array(Type.String({ minLength: 1, maxLength: 40 }), {
      maxItems: 64,
      title: 'Fields that are not used',
      description: 'No meaning is proposed for them',
      default: [],
    }),
  },
  { $id: 'LineSettings', additionalProperties: false },
);
export type LineSettings = Static<typeof LineSettings>;
