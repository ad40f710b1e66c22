import { type Static, Type } from 'typebox';
import { STAGES } from '../../stage/stage.ts';
import { LiveState, StageView } from './live-state.ts';
import { routes } from './route-table.ts';
import { LiveSpool } from './runs-and-spools.ts';
import { given, int, list, named, num, numOrNull, oneOf, orNull } from './schema.ts';

const column = (digits: number) => list(numOrNull({ digits }));

export const ReadingsFrame = named(
  'ReadingsFrame',
  {
    kind: Type.Literal('readings'),
    runId: orNull(int()),
    timeMs: list(num({ digits: 1 })),
    gaugeMm: list(num({ digits: 2 })),
    diameterMm: column(4),
    speedMmPerS: column(2),
    zones: list(Type.Object({ zone: int(), temperatureC: column(3), setpointC: column(3), power: column(3) })),
  },
  'Readings since the last frame, as parallel arrays; null = no value. Where more came than a frame may hold they are thinned, keeping each group’s smallest and largest diameter.',
);
export type ReadingsFrame = Static<typeof ReadingsFrame>;

export const StateFrame = named(
  'StateFrame',
  { kind: Type.Literal('state'), state: LiveState },
  'The whole live state: on connection, at once when an alarm, a section or the stage changes, and 4 times a second.',
);
export type StateFrame = Static<typeof StateFrame>;

export const SkippedFrame = named(
  'SkippedFrame',
  { kind: Type.Literal('skipped'), frames: int() },
  'This client was too slow and so many frames were left out: it should fetch what it shows again.',
);
export type SkippedFrame = Static<typeof SkippedFrame>;

export const LiveFrame = Type.Union([ReadingsFrame, StateFrame, SkippedFrame], { $id: 'LiveFrame' });
export type LiveFrame = Static<typeof LiveFrame>;

export const ExpectedHeat = named(
  'ExpectedHeat',
  {
    zones: list(
      Type.Object({
        zone: int(),
        timeMs: list(num({ digits: 0 })),
        lowC: list(num({ digits: 1 })),
        highC: list(num({ digits: 1 })),
      }),
    ),
  },
  'A value every five seconds; a pause = nothing could be expected.',
);
export type ExpectedHeat = Static<typeof ExpectedHeat>;

/** The line as it runs: state, stage, spool change. */
export const live = routes({
  'GET /api/state': {
    operationId: 'getState',
    tag: 'live',
    summary: 'The live state',
    description: 'Everything the live page shows, at this moment.',
    answers: { 200: LiveState },
  },
  'GET /live': {
    operationId: 'openLiveFeed',
    tag: 'live',
    summary: 'The live feed, a WebSocket',
    description:
      'Each text message is one LiveFrame: readings about 25 times a second, the state 4 times. The client sends nothing. Without an upgrade it answers one frame with the state.',
    answers: { 200: LiveFrame },
    ticket: true,
  },
  'GET /api/heat/expected': {
    operationId: 'getExpectedHeat',
    tag: 'live',
    summary: 'Where the temperature of each learnt zone was expected',
    description: 'Of the last ten minutes, from the model learnt in earlier heat-ups.',
    answers: { 200: ExpectedHeat },
  },
  'POST /api/heat/forget': {
    operationId: 'forgetZoneModels',
    tag: 'live',
    summary: 'Forget what was learnt about the zones',
    description: 'For a line that was rebuilt; the next heat-up teaches the service again.',
    answers: { 200: LiveState },
  },
  'POST /api/stage': {
    operationId: 'setStage',
    tag: 'live',
    summary: 'Set the stage of the line',
    description: 'With null the service tells the stage from the readings again.',
    body: given({ stage: orNull(oneOf(STAGES)) }),
    answers: { 200: StageView },
  },
  'POST /api/spools/change': {
    operationId: 'changeSpool',
    tag: 'live',
    summary: 'Change spool',
    description:
      'The full spool was taken off and an empty one put on. Answers the new spool; null = none has begun yet.',
    answers: { 200: orNull(LiveSpool) },
  },
});
