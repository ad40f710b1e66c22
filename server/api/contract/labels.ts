import { type Static, Type } from 'typebox';
import { DOUBTS, SECTION_KINDS, VERDICTS } from '../../strand/section.ts';
import { CoilDetail } from './cut-plan.ts';
import { routes } from './route-table.ts';
import { FitnessView, LotView } from './runs-and-spools.ts';
import { bool, component, input, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';

export const HouseView = component(
  'House',
  {
    code: text({
      description: 'Three letters and digits in front of every printed name; made at random at the first start',
    }),
    linkAddress: text({
      description:
        'What the codes on labels lead to. By HTTP if the service answers that too, so that they stay valid with and without HTTPS',
    }),
    linkStated: bool('A user entered this address of the page; otherwise it is the address of this request'),
  },
  'The house that this service belongs to, as its labels show it.',
);
export type HouseView = Static<typeof HouseView>;

export const LabelFacts = component(
  'LabelFacts',
  {
    name: text(),
    material: orNull(text(), 'null = not entered'),
    lengthMm: num({ digits: 0 }),
    verdict: FitnessView,
  },
  'What anyone may see who holds the label.',
);
export type LabelFacts = Static<typeof LabelFacts>;

export const PlaceFromFeed = Type.Object({
  kind: oneOf(SECTION_KINDS),
  verdict: oneOf(VERDICTS),
  doubt: orNull(oneOf(DOUBTS)),
  peakMm: numOrNull({ digits: 4 }),
  fromFeedMm: num({ digits: 0, description: 'From the end that feeds first' }),
  toFeedMm: num({ digits: 0 }),
});

export const LabelledView = component(
  'Labelled',
  {
    spoolId: int(),
    runId: int(),
    code: text(),
    startedMs: num(),
    timeZone: text(),
    example: bool('Simulated, only to look at'),
    lot: orNull(LotView),
    limits: Type.Object({ nominalMm: num(), toleranceMm: num(), hotendLimitMm: num(), smallestFeedableMm: num() }),
    coil: orNull(
      Type.Object({
        ...CoilDetail.properties,
        fromGaugeMm: num({ digits: 1, description: 'Its inner end on the spool, which was cut last and feeds first' }),
        toGaugeMm: num({ digits: 1 }),
        places: list(PlaceFromFeed, 'Stretches in it that are not good, in the order in which they feed'),
        printers: list(
          Type.Object({ id: int(), name: text(), fitness: FitnessView, sentence: text() }),
          'What each printer may make of it',
        ),
      }),
      'null = the label of a whole spool',
    ),
  },
  'What the code on a label stands for.',
);
export type LabelledView = Static<typeof LabelledView>;

export const CODE_FIELD = text({ maxLength: 40, description: 'As printed: K7M-R3-1 or K7M-R3-1-A' });
const CodeParam = input({ code: CODE_FIELD });

/** What the codes on labels lead to. */
export const labels = routes({
  'GET /api/house': {
    operationId: 'getHouse',
    tag: 'spools',
    right: 'watch',
    summary: 'Get the code of the house and the address on its labels',
    description: 'Printed names start with the code, so that two houses never print the same one.',
    answers: { 200: HouseView },
  },
  'GET /api/labels/:code': {
    operationId: 'readLabel',
    tag: 'spools',
    right: 'none',
    summary: 'Read a label',
    description: 'Name, material, length and verdict: all that someone sees who scans a label without being paired.',
    params: CodeParam,
    answers: { 200: LabelFacts },
  },
  'GET /api/labels/:code/all': {
    operationId: 'getLabelled',
    tag: 'spools',
    right: 'watch',
    summary: 'Get the spool or coil of a label',
    description: 'A coil with its figures, its stretches that are not good, and what each printer may make of it.',
    params: CodeParam,
    answers: { 200: LabelledView },
  },
});
