import { type Static, Type } from 'typebox';
import { USE_KINDS, USE_UNITS } from '../../entities/strand-use.ts';
import { PRINT_AMOUNT_MAX } from '../../strand/verdict/print-fit.ts';
import { CODE_FIELD, PlaceFromFeed } from './labels.ts';
import { routes } from './route-table.ts';
import { FitnessView } from './runs-and-spools.ts';
import { bool, component, input, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';

const PrintNeeds = Type.Object({ amount: num(), unit: oneOf(['metres', 'grams']) });
const Used = Type.Object({ amount: numOrNull({ description: 'null = all that was left' }), unit: oneOf(USE_UNITS) });

export const StockItem = component(
  'StockItem',
  {
    code: text({ description: 'As printed on its label' }),
    name: text(),
    kind: oneOf(['coil', 'spool'], 'spool = not cut, or not to its end'),
    spoolId: int(),
    runId: int(),
    startedMs: num(),
    timeZone: text(),
    example: bool('Simulated, only to look at'),
    material: text({ description: '"" = not entered' }),
    colour: text({ description: '"" = not entered' }),
    lengthMm: num({ digits: 0, description: 'Before anything was used' }),
    leftMm: num({ digits: 0, description: 'Never below 0' }),
    leftUncertaintyMm: num({ digits: 0, description: 'k = 2' }),
    leftGrams: numOrNull({ digits: 1, description: 'null = nothing was measured' }),
    isAtMost: bool('More may be gone: how much a print used was not recorded'),
    usedUpBy: orNull(text(), 'Who recorded that nothing is left'),
    isLow: bool('Less is left than `lowMm` of the list'),
    fitness: FitnessView,
    sentence: text({ description: 'The verdict for the printer chosen for its spool' }),
    longestPieceMm: numOrNull({ digits: 0, description: 'Of a spool: what its cut list leaves in one piece' }),
    lastEntryId: int({ description: 'Of what was recorded about it and counts; 0 = nothing' }),
  },
  'A coil or an uncut spool, and what is left of it.',
);
export type StockItem = Static<typeof StockItem>;

export const StockView = component('Stock', {
  lowMm: num({ description: 'Below this, an item counts as running low' }),
  items: list(StockItem, 'The newest run first'),
  isComplete: bool('Those of all runs are in it'),
});
export type StockView = Static<typeof StockView>;

export const StockDetail = component(
  'StockDetail',
  {
    item: StockItem,
    entries: list(
      Type.Object({
        id: int(),
        kind: oneOf(USE_KINDS),
        used: orNull(Used),
        print: orNull(PrintNeeds),
        printer: orNull(text()),
        atMs: num(),
        who: text(),
      }),
      'What was recorded and counts, in that order',
    ),
    prints: list(
      Type.Object({
        id: int({ description: 'The entry with which it begins' }),
        outcome: oneOf(['open', 'finished', 'jammed', 'flawed'], 'open = it runs, or its end was not recorded'),
        isRunning: bool(),
        startedMs: num(),
        printer: orNull(text()),
        called: orNull(FitnessView, 'What the strand was called for that printer then'),
        needs: orNull(PrintNeeds),
        marks: list(
          Type.Object({
            kind: oneOf(['jammed', 'flawed']),
            entryId: int(),
            fromFeedMm: numOrNull({ digits: 0, description: 'From the end that feeds; null = not stated' }),
            uncertaintyMm: num({ digits: 0, description: 'k = 2' }),
            gaugeMm: numOrNull({ digits: 1, description: 'The same place by gauge length' }),
            gaugeUncertaintyMm: num({ digits: 1 }),
            judged: list(PlaceFromFeed, 'Stretches there that are not good, within the uncertainty, nearest first'),
          }),
        ),
      }),
      'In the order in which they began',
    ),
  },
  'A coil or an uncut spool with all that was recorded about it.',
);
export type StockDetail = Static<typeof StockDetail>;

const lastSeen = Type.Optional(
  int({
    minimum: 0,
    description:
      '`lastEntryId` as the client has seen it; refused (409) if it differs, so that two devices never record the same twice',
  }),
);
const amount = num({ exclusiveMinimum: 0, maximum: PRINT_AMOUNT_MAX });
export const UseInput = input(
  {
    kind: oneOf(USE_KINDS, 'used = strand was taken; the others are steps of a print'),
    used: Type.Optional(
      input({
        amount: Type.Optional(amount),
        unit: oneOf(USE_UNITS, 'percent = of the print; all = everything that was left, without an amount'),
      }),
    ),
    print: Type.Optional(input({ amount, unit: oneOf(['metres', 'grams'], 'What the whole print needs') })),
    printerId: Type.Optional(int({ minimum: 0, description: 'Default: the printer chosen for the spool' })),
    lastEntryId: lastSeen,
  },
  { $id: 'UseInput' },
);
export type UseInput = Static<typeof UseInput>;

export const NEWEST = {
  newest: Type.Optional(int({ minimum: 1, description: 'Those of so many of the newest runs; left out = all' })),
};
export const PRINT_NEEDS = {
  metres: Type.Optional(num({ description: 'Strand that the print needs, m; this or grams' })),
  grams: Type.Optional(num({ description: 'Mass of the print, g; this or metres' })),
};

const Fit = Type.Object({
  code: text(),
  answer: oneOf(['fits', 'perhaps', 'tooShort', 'notFit']),
  leftOverMm: numOrNull({ digits: 0, description: 'With reserve; below 0 = missing' }),
  sentence: text(),
});
export const StockFitView = component('StockFit', {
  fits: list(Fit, 'Best first: surely long enough and fit, with least left over'),
  others: list(Fit, 'Why not'),
  sentence: text(),
});
export type StockFitView = Static<typeof StockFitView>;

export const PromisesView = component(
  'Promises',
  {
    rows: list(
      Type.Object({
        called: FitnessView,
        printedWell: int(),
        jammed: int(),
        flawed: int(),
        notKnown: int({ description: 'Still running, or their end was not recorded' }),
        jams: orNull(
          Type.Object({ lower: num({ digits: 4 }), upper: num({ digits: 4 }) }),
          'Share of prints that jam, 95 % (Clopper and Pearson); null = no print has ended',
        ),
      }),
    ),
  },
  'What became of prints, by the verdict on their strand when they began.',
);
export type PromisesView = Static<typeof PromisesView>;

export const YieldsView = component('Yields', {
  rows: list(
    Type.Object({
      preparation: text({ description: 'Material and preparation in words; "" = not entered' }),
      runIds: list(int()),
      fedKg: num({ digits: 3 }),
      woundKg: num({ digits: 3 }),
      goodKg: num({ digits: 3, description: 'Kept by the cut lists' }),
      goodShare: num({ digits: 4 }),
      isImpossible: bool('More was wound than fed, so one of the figures is wrong'),
    }),
    'Ended runs for which it was entered how much was fed, by preparation, best first',
  ),
});
export type YieldsView = Static<typeof YieldsView>;

const CodeParam = input({ code: CODE_FIELD });

/** What is left of every coil and spool, and what became of it. */
export const stock = routes({
  'GET /api/stock': {
    operationId: 'listStock',
    tag: 'stock',
    right: 'watch',
    summary: 'List all coils and uncut spools with what is left of them',
    description: 'Used-up ones included. Spools that are still being wound are left out.',
    query: input(NEWEST),
    answers: { 200: StockView },
  },
  'GET /api/stock/fit': {
    operationId: 'findStrandForPrint',
    tag: 'stock',
    right: 'watch',
    summary: 'Find the coil for a print',
    description:
      'Over the whole shelf, without examples: fit before fit after cutting before not known, and of those the one with least left over. With a reserve of 3 % + 500 mm.',
    query: input({
      ...PRINT_NEEDS,
      printerId: Type.Optional(int({ minimum: 0, description: 'Default: each spool by the printer chosen for it' })),
    }),
    answers: { 200: StockFitView },
  },
  'GET /api/stock/:code': {
    operationId: 'getStockItem',
    tag: 'stock',
    right: 'watch',
    summary: 'Get what was recorded about a coil or an uncut spool',
    description: 'What was used, and its prints with the places where they jammed or show a flaw.',
    params: CodeParam,
    answers: { 200: StockDetail },
  },
  'POST /api/stock/:code/uses': {
    operationId: 'recordUse',
    tag: 'stock',
    right: 'act',
    summary: 'Record strand that was used, or a step of a print',
    description:
      'A finished print uses its amount of strand. A jam or a flaw is placed on the strand: from the end that feeds, after all that was used before. More than is left is refused.',
    params: CodeParam,
    body: UseInput,
    answers: { 201: StockDetail },
  },
  'DELETE /api/stock/:code/uses/:id': {
    operationId: 'undoUse',
    tag: 'stock',
    right: 'act',
    summary: 'Undo an entry about used strand or a print',
    description: 'Later entries stay.',
    params: input({ code: CODE_FIELD, id: int({ minimum: 1 }) }),
    answers: { 200: StockDetail },
  },
  'GET /api/promises': {
    operationId: 'getPromises',
    tag: 'stock',
    right: 'watch',
    summary: 'Get what became of prints, by the verdict on their strand',
    description: 'Over all nights, without examples. The verdict is that of the time when the print began.',
    answers: { 200: PromisesView },
  },
  'GET /api/yields': {
    operationId: 'getYields',
    tag: 'stock',
    right: 'watch',
    summary: 'Get how much of the material fed became good strand, by preparation',
    description: 'Over all ended runs for which a user entered how much was fed, without examples.',
    answers: { 200: YieldsView },
  },
});
