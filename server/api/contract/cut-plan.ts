import { type Static, Type } from 'typebox';
import { SECTION_KINDS } from '../../strand/section.ts';
import { FlowView } from './judgement.ts';
import { PrinterProfile } from './printers.ts';
import { routes } from './route-table.ts';
import { FitnessView, SpoolChoicesInput, SpoolChoicesView, VerdictView } from './runs-and-spools.ts';
import { given, IdParam, int, list, named, num, numOrNull, oneOf, orNull, text, yes } from './schema.ts';

/** Places in a plan are whole mm; `…OuterMm` count from the outer end, which comes off first. */

const placed = {
  fromMm: num({ digits: 1 }),
  toMm: num({ digits: 1 }),
  fromOuterMm: num(),
  toOuterMm: num(),
  lengthMm: num({ digits: 1 }),
};
const Landmark = Type.Object({
  kind: orNull(oneOf(SECTION_KINDS)),
  peakMm: numOrNull(),
  lengthMm: num({ digits: 1 }),
  peakAtOuterMm: num(),
  afterCutMm: num(),
  sentence: text({
    description: '“When about 327 mm are off, you should see a thin place of 1.48 mm, 30 mm long.”',
  }),
});
export const CutStepView = named('CutStep', {
  ordinal: int({ description: 'From 1, over what is still to do' }),
  action: oneOf(['unwindAndKeep', 'discard']),
  ...placed,
  countedMm: num({ description: 'To be counted since the last cut' }),
  countErrorMm: num({ description: 'How far the count may be off there' }),
  cutAfter: yes('false = down to the core'),
  guardBeforeMm: num(),
  guardAfterMm: num(),
  landmark: orNull(Landmark),
  coil: orNull(text({ description: 'Name of the coil that this step makes' })),
  sentence: text(),
});
export type CutStepView = Static<typeof CutStepView>;

export const CoilView = named('Coil', {
  ordinal: int({ description: 'From 1 in the order in which they come off' }),
  name: text({ description: 'Given by a user, else “R3-1 A”' }),
  named: yes('A user gave the name'),
  state: oneOf(['planned', 'cut']),
  condition: oneOf(['clean', 'inDoubt', 'spoilt']),
  ...placed,
  doubtfulMm: num({ digits: 1 }),
  unknownMm: num({ digits: 1 }),
  grams: numOrNull({ digits: 2 }),
});
export type CoilView = Static<typeof CoilView>;

export const DoneCutView = named('DoneCut', {
  id: int(),
  action: oneOf(['keep', 'discard']),
  countedMm: num(),
  landmarkCountedMm: numOrNull(),
  reachedEnd: yes(),
  atMs: num(),
  who: text(),
  ...placed,
  condition: oneOf(['clean', 'inDoubt', 'spoilt']),
});
export type DoneCutView = Static<typeof DoneCutView>;

export const CutPlanView = named('CutPlan', {
  spoolId: int(),
  name: text(),
  printer: PrinterProfile,
  choices: SpoolChoicesView,
  shortestMm: num({ description: 'Shortest coil worth keeping, as it holds' }),
  countError: Type.Object({ wheelShare: num(), lengthScaleShare: num({ digits: 6 }), slipMm: num() }),
  steps: list(CutStepView),
  coils: list(CoilView),
  done: list(DoneCutView),
  totals: Type.Object(
    {
      woundMm: num({ digits: 1 }),
      keptMm: num({ description: 'In coils, measured' }),
      discardedMm: num({ description: 'Cut out or in a spoilt coil, measured' }),
      unknownMm: num({ digits: 1, description: 'Never measured, wherever it goes' }),
      unknownInCoilsMm: num(),
      givenUpMm: num({ description: 'Good strand given up to margins and pieces too short' }),
      cuts: int(),
    },
    { description: 'keptMm + discardedMm + unknownMm = woundMm, exactly' },
  ),
  explanation: text(),
  warnings: list(text()),
  fitness: FitnessView,
});
export type CutPlanView = Static<typeof CutPlanView>;

export const CutInput = given(
  {
    action: oneOf(['keep', 'discard']),
    countedMm: num({ description: 'Counted since the last cut' }),
    landmarkCountedMm: Type.Optional(
      num({ description: 'What the counter showed when this step’s landmark passed: puts the count right' }),
    ),
    reachedEnd: Type.Optional(yes('The core is bare, whatever the counter says')),
    cutsBefore: Type.Optional(
      int({
        minimum: 0,
        description:
          'How many cuts were ticked off as the page saw it: another number is refused (409), so that no step is ticked twice',
      }),
    ),
  },
  { $id: 'CutInput' },
);
export type CutInput = Static<typeof CutInput>;

export const CoilDetail = named('CoilDetail', {
  coil: CoilView,
  verdict: orNull(VerdictView),
  statistics: orNull(
    Type.Object({
      measuredMm: num({ digits: 1 }),
      meanMm: num({ digits: 5 }),
      sdMm: numOrNull({ digits: 5 }),
      minMm: num({ digits: 4 }),
      maxMm: num({ digits: 4 }),
      withinTolerance: num({ digits: 6, description: 'Share of the measured length' }),
    }),
  ),
  flow: orNull(FlowView),
});
export type CoilDetail = Static<typeof CoilDetail>;

const CoilNameInput = given({ name: text({ maxLength: 60 }) }, { $id: 'CoilNameInput' });

export const PrintFitView = named('PrintFit', {
  needMm: num({ digits: 1 }),
  withReserveMm: num({ digits: 1, description: 'Need + 3 % + 500 mm' }),
  fits: yes('One coil alone is long enough'),
  coil: orNull(text({ description: 'The shortest coil that is long enough' })),
  leftOverMm: numOrNull({ digits: 1 }),
  longEnough: list(text()),
  together: orNull(list(text(), 'The fewest coils that do it together; null = even all are too short')),
  sentence: text(),
  fitness: FitnessView,
  caution: orNull(text({ description: 'Why the answer may not hold' })),
});
export type PrintFitView = Static<typeof PrintFitView>;

/** What to cut out, what was cut, the coils that result, and whether a print fits one of them. */
export const cutPlan = routes({
  'PUT /api/spools/:id/choices': {
    operationId: 'chooseForSpool',
    tag: 'spools',
    summary: 'Choose how a spool is judged and cut',
    description:
      'The printer that it is judged for, and what its plan aims at. Kept with the spool; what is left out stays as it is.',
    params: IdParam,
    body: SpoolChoicesInput,
    answers: { 200: SpoolChoicesView },
  },
  'GET /api/spools/:id/cut-plan': {
    operationId: 'getCutPlan',
    tag: 'spools',
    summary: 'What to unwind, cut and discard',
    description: 'From the outer end, after the cuts that are ticked off, by the choices of the spool.',
    params: IdParam,
    answers: { 200: CutPlanView },
  },
  'POST /api/spools/:id/cuts': {
    operationId: 'tickOffCut',
    tag: 'spools',
    summary: 'Tick off a step at the rewinder',
    description: 'Answers with the plan for the rest. A cut that cannot have been made so is refused.',
    params: IdParam,
    body: CutInput,
    answers: { 201: CutPlanView },
  },
  'DELETE /api/spools/:id/cuts/last': {
    operationId: 'takeBackLastCut',
    tag: 'spools',
    summary: 'Take back the last step that was ticked off',
    description: 'Answers with the plan.',
    params: IdParam,
    answers: { 200: CutPlanView },
  },
  'GET /api/spools/:id/coils': {
    operationId: 'listCoils',
    tag: 'spools',
    summary: 'The coils of the plan',
    description: 'Cut and still to cut, each with its own statistics and verdict.',
    params: IdParam,
    answers: { 200: list(CoilDetail) },
  },
  'PUT /api/spools/:id/coils/:ordinal': {
    operationId: 'nameCoil',
    tag: 'spools',
    summary: 'Name a coil',
    description: 'The name stays with its strand, whatever a later plan makes of it. Empty = its usual name again.',
    params: given({ id: int({ minimum: 1 }), ordinal: int({ minimum: 1 }) }),
    body: CoilNameInput,
    answers: { 200: CoilView },
  },
  'GET /api/spools/:id/print-fit': {
    operationId: 'fitPrint',
    tag: 'spools',
    summary: 'Whether a print fits',
    description: 'Of so many metres or grams, one of them, and from which coil.',
    params: IdParam,
    query: given({ metres: Type.Optional(num()), grams: Type.Optional(num()) }),
    answers: { 200: PrintFitView },
  },
});
