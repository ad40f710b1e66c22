import { type Static, Type } from 'typebox';
import { DOUBTS, SECTION_KINDS } from '../../strand/section.ts';
import { FlowView } from './judgement.ts';
import { PrinterProfile } from './printers.ts';
import { routes } from './route-table.ts';
import { FitnessView, SpoolChoicesInput, SpoolChoicesView, VerdictView } from './runs-and-spools.ts';
import { bool, bytes, component, IdParam, input, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';

/** Positions in a plan are whole mm; `…OuterMm` counts from the outer end, which comes off first. */

/** A stretch that may be good all the same. */
const InDoubt = Type.Object({
  kind: oneOf(SECTION_KINDS),
  doubt: orNull(oneOf(DOUBTS), 'Why; null = marked doubtful without a reason'),
  fromOuterMm: num({ digits: 1 }),
  toOuterMm: num({ digits: 1 }),
});
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
  afterCutMm: num({ description: 'Count at which it passes' }),
  countErrorMm: num({ description: 'Possible error of that count' }),
  thenMm: num({ description: 'To be counted on from there to the end of the step' }),
  sentence: text({
    description: 'Such as “Between 128 mm and 526 mm, you should see a thin spot of 1.48 mm, 30 mm long.”',
  }),
});
export const CutStepView = component('CutStep', {
  ordinal: int({ description: 'From 1, over the steps still to do' }),
  action: oneOf(['unwindAndKeep', 'discard']),
  ...placed,
  countedMm: num({
    description:
      'Length to count from the last cut if no landmark of the step is confirmed. With one, count `thenMm` from there; the position of the step assumes that',
  }),
  countErrorMm: num({ description: 'Possible error of the count at that point' }),
  cutAfter: bool('false = unwind down to the core'),
  marginBeforeMm: num(),
  marginAfterMm: num(),
  landmarks: list(Landmark, 'What passes in a discarded piece; confirming one corrects the count'),
  doubts: list(InDoubt, 'Stretches in this piece that are in doubt: look before you cut'),
  coil: orNull(text({ description: 'Name of the coil that this step produces' })),
  sentence: text(),
});
export type CutStepView = Static<typeof CutStepView>;

export const CoilView = component('Coil', {
  ordinal: int({ description: 'From 1 in the order in which they come off' }),
  name: text({ description: 'As named by a user, otherwise such as “R3-1 A”' }),
  named: bool('A user named it'),
  code: text({ description: 'As printed on its label, with the code of the house: K7M-R3-1-A' }),
  state: oneOf(['planned', 'cut']),
  condition: oneOf(['clean', 'inDoubt', 'spoilt']),
  repair: orNull(
    Type.Object({
      outerMm: num({ description: 'To be cut off its outer end' }),
      innerMm: num({ description: 'To be cut off its inner end' }),
      leftMm: num({ description: 'What is left then; 0 = too short to keep' }),
      sentence: text({ description: 'Where the bad stretch is in the coil, and how to save it' }),
    }),
    'null = the coil is clean',
  ),
  ...placed,
  doubtfulMm: num({ digits: 1 }),
  unknownMm: num({ digits: 1 }),
  doubts: list(InDoubt, 'Stretches in doubt that stay in it'),
  grams: numOrNull({ digits: 2 }),
  lengthUncertaintyMm: num({ digits: 1, description: 'From the length scale (k = 2)' }),
  gramsUncertainty: numOrNull({ digits: 2, description: 'From length scale, gauge and density (k = 2)' }),
});
export type CoilView = Static<typeof CoilView>;

export const DoneCutView = component('DoneCut', {
  id: int(),
  action: oneOf(['keep', 'discard']),
  countedMm: num(),
  landmarkCountedMm: numOrNull(),
  reachedEnd: bool(),
  atMs: num(),
  who: text(),
  ...placed,
  condition: oneOf(['clean', 'inDoubt', 'spoilt']),
});
export type DoneCutView = Static<typeof DoneCutView>;

export const CutPlanView = component('CutPlan', {
  spoolId: int(),
  name: text(),
  printer: PrinterProfile,
  choices: SpoolChoicesView,
  shortestMm: num({ description: 'Shortest coil worth keeping, as applied' }),
  countError: Type.Object({
    wheelShare: num({ description: 'Possible error of the measuring wheel, as a share of the counted length' }),
    lengthScaleShare: num({
      digits: 6,
      description: 'Possible error of the length scale of the spool, as a share of the counted length',
    }),
    slipMm: num({
      description: 'Possible error that does not grow with the length: start of the count, slip, place of the knife',
    }),
    edgeMm: num({ description: 'Bad strand that may have been left out beside a stretch as measured' }),
  }),
  steps: list(CutStepView),
  coils: list(CoilView),
  done: list(DoneCutView),
  prints: list(
    Type.Object({
      needMm: num({ digits: 1, description: 'With reserve, and with the uncertainty of lengths' }),
      coil: orNull(text({ description: 'null = no coil is left that is long enough' })),
    }),
    'The prints that were chosen, in their order, each with its coil',
  ),
  totals: Type.Object(
    {
      woundMm: num({ digits: 1 }),
      keptMm: num({ description: 'Measured strand in coils' }),
      discardedMm: num({ description: 'Measured strand cut out, or in a spoilt coil' }),
      unknownMm: num({ digits: 1, description: 'Strand that was not reliably measured, kept or not' }),
      unknownInCoilsMm: num(),
      goodDiscardedMm: num({ description: 'Good strand lost to margins and to pieces that are too short' }),
      landmarkGainMm: num({ description: 'Part of the strand in coils that is lost if no landmark is confirmed' }),
      cuts: int(),
    },
    { description: 'keptMm + discardedMm + unknownMm = woundMm, exactly' },
  ),
  explanation: text(),
  warnings: list(text()),
  fitness: FitnessView,
});
export type CutPlanView = Static<typeof CutPlanView>;

const cutsBefore = Type.Optional(
  int({
    minimum: 0,
    description:
      'Number of cuts that the client has seen; refused (409) if the number differs, so that two devices never change the same step twice',
  }),
);
const cutPiece = {
  action: oneOf(['keep', 'discard']),
  countedMm: num({ description: 'Counted since the last cut' }),
  landmarkCountedMm: Type.Optional(
    num({ description: 'What the counter showed when the landmark of this step passed; corrects the count' }),
  ),
  reachedEnd: Type.Optional(bool('The core is reached, whatever the counter shows')),
};
export const CutInput = input({ ...cutPiece, cutsBefore }, { $id: 'CutInput' });
export type CutInput = Static<typeof CutInput>;

const CutStepsInput = input(
  {
    pieces: Type.Array(input(cutPiece), { minItems: 1, maxItems: 100, description: 'From the last cut on' }),
    cutsBefore,
  },
  { $id: 'CutStepsInput' },
);

export const CutPiecesInput = input(
  {
    pieces: Type.Array(input(cutPiece), {
      minItems: 1,
      maxItems: 10,
      description: 'From the outer end of the last cut',
    }),
    cutsBefore,
  },
  { $id: 'CutPiecesInput' },
);
export type CutPiecesInput = Static<typeof CutPiecesInput>;

export const CoilDetail = component('CoilDetail', {
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

const CoilNameInput = input({ name: text({ maxLength: 60 }) }, { $id: 'CoilNameInput' });

export const PrintFitView = component('PrintFit', {
  needMm: num({ digits: 1 }),
  withReserveMm: num({ digits: 1, description: '`needMm` + 3 % + 500 mm' }),
  fits: bool('One coil alone is long enough'),
  coil: orNull(text({ description: 'The shortest coil that is long enough' })),
  leftOverMm: numOrNull({ digits: 1 }),
  leftOverUncertaintyMm: numOrNull({ digits: 1, description: 'k = 2' }),
  longEnough: list(text(), 'Coils that are surely long enough, shortest first'),
  perhaps: list(text(), 'Coils that may be long enough, within the uncertainty of their length'),
  combination: orNull(
    list(text(), 'The smallest set of coils that is long enough together; null = all coils together are too short'),
  ),
  sentence: text(),
  fitness: FitnessView,
  caution: orNull(text({ description: 'Why the answer may be wrong' })),
});
export type PrintFitView = Static<typeof PrintFitView>;

/** What to cut out, what was cut, the resulting coils, and whether a print fits one of them. */
export const cutPlan = routes({
  'PUT /api/spools/:id/choices': {
    operationId: 'setSpoolChoices',
    tag: 'spools',
    right: 'act',
    summary: 'Choose how a spool is judged and cut',
    description:
      'The printer that it is judged for, and the aims of its cut list. Stored with the spool; fields that are left out keep their value.',
    params: IdParam,
    body: SpoolChoicesInput,
    answers: { 200: SpoolChoicesView },
  },
  'GET /api/spools/:id/cut-plan': {
    operationId: 'getCutPlan',
    tag: 'spools',
    right: 'watch',
    summary: 'Get the cut list: what to unwind, cut and discard',
    description: 'From the outer end, after the cuts already ticked off, according to the choices for the spool.',
    params: IdParam,
    answers: { 200: CutPlanView },
  },
  'GET /api/spools/:id/cut-plan/csv': {
    operationId: 'exportCutList',
    tag: 'spools',
    right: 'watch',
    summary: 'Download the cut list as CSV',
    description: 'A row for each step still to do, with lengths in metres.',
    params: IdParam,
    answers: { 200: bytes() },
    produces: ['text/csv'],
  },
  'POST /api/spools/:id/cuts': {
    operationId: 'tickOffCut',
    tag: 'spools',
    right: 'act',
    summary: 'Tick off a step at the rewinder',
    description: 'Returns the cut list for the rest of the spool. An impossible cut is refused.',
    params: IdParam,
    body: CutInput,
    answers: { 201: CutPlanView },
  },
  'POST /api/spools/:id/cuts/several': {
    operationId: 'tickOffCuts',
    tag: 'spools',
    right: 'act',
    summary: 'Tick off several steps at the rewinder',
    description: 'All of them, or none. Returns the cut list for the rest of the spool.',
    params: IdParam,
    body: CutStepsInput,
    answers: { 201: CutPlanView },
  },
  'PUT /api/spools/:id/cuts/last': {
    operationId: 'correctLastCut',
    tag: 'spools',
    right: 'act',
    summary: 'Correct the last step that was ticked off',
    description:
      'Replaces it by the pieces into which it was really cut, for example after a coil was cut back: all of them, or none. Returns the cut list.',
    params: IdParam,
    body: CutPiecesInput,
    answers: { 200: CutPlanView },
  },
  'DELETE /api/spools/:id/cuts/last': {
    operationId: 'undoLastCut',
    tag: 'spools',
    right: 'act',
    summary: 'Undo the last step that was ticked off',
    description: 'Returns the cut list.',
    params: IdParam,
    query: input({ cutsBefore }),
    answers: { 200: CutPlanView },
  },
  'GET /api/spools/:id/coils': {
    operationId: 'listCoils',
    tag: 'spools',
    right: 'watch',
    summary: 'List the coils of the cut list',
    description: 'Coils already cut and still to cut, each with its own statistics and verdict.',
    params: IdParam,
    answers: { 200: list(CoilDetail) },
  },
  'PUT /api/spools/:id/coils/:ordinal': {
    operationId: 'nameCoil',
    tag: 'spools',
    right: 'act',
    summary: 'Name a coil',
    description: 'The name stays with its strand when the cut list changes. An empty name restores the usual one.',
    params: input({ id: int({ minimum: 1 }), ordinal: int({ minimum: 1 }) }),
    body: CoilNameInput,
    answers: { 200: CoilView },
  },
  'GET /api/spools/:id/print-fit': {
    operationId: 'checkPrintFit',
    tag: 'spools',
    right: 'watch',
    summary: 'Check whether a print fits',
    description: 'Takes the length in metres or the mass in grams, and states which coil to use.',
    params: IdParam,
    query: input({
      metres: Type.Optional(num({ description: 'Strand that the print needs, m; this or grams' })),
      grams: Type.Optional(num({ description: 'Mass of the print, g; this or metres' })),
    }),
    answers: { 200: PrintFitView },
  },
});
