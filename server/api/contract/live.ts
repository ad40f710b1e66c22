import { type Static, Type } from 'typebox';
import { STAGES } from '../../stage/stage.ts';
import { LiveState, StageView } from './live-state.ts';
import { routes } from './route-table.ts';
import { LiveSpool } from './runs-and-spools.ts';
import { component, input, int, list, num, numOrNull, oneOf, orNull } from './schema.ts';

const column = (digits: number) => list(numOrNull({ digits }));

export const ReadingsFrame = component(
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
  'Readings since the last frame, as parallel arrays; null = no value. If there are too many for one frame, they are thinned so that the smallest and the largest diameter of each group remain.',
);
export type ReadingsFrame = Static<typeof ReadingsFrame>;

export const StateFrame = component(
  'StateFrame',
  { kind: Type.Literal('state'), state: LiveState },
  'The whole live state: sent on connection, 4 times a second, and immediately when an alarm, a section or the stage changes.',
);
export type StateFrame = Static<typeof StateFrame>;

export const SkippedFrame = component(
  'SkippedFrame',
  { kind: Type.Literal('skipped'), frames: int() },
  'The client was too slow, so this many frames were skipped. It should reload what it shows.',
);
export type SkippedFrame = Static<typeof SkippedFrame>;

export const LiveFrame = Type.Union([ReadingsFrame, StateFrame, SkippedFrame], { $id: 'LiveFrame' });
export type LiveFrame = Static<typeof LiveFrame>;

export const ExpectedHeat = component(
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
  'One value every five seconds. Where no temperature could be predicted, values are missing.',
);
export type ExpectedHeat = Static<typeof ExpectedHeat>;

/** The running line: state, stage, spool change. */
export const live = routes({
  'GET /api/state': {
    operationId: 'getState',
    tag: 'live',
    right: 'watch',
    summary: 'Get the live state',
    description: 'Everything that the live page shows now.',
    answers: { 200: LiveState },
  },
  'GET /live': {
    operationId: 'openLiveFeed',
    tag: 'live',
    right: 'watch',
    summary: 'Open the live feed (WebSocket)',
    description:
      'Each text message is one LiveFrame: readings about 25 times a second, the state 4 times. The client sends nothing. A plain GET returns one StateFrame.',
    answers: { 200: LiveFrame },
  },
  'GET /api/heat/expected': {
    operationId: 'getExpectedHeat',
    tag: 'live',
    right: 'watch',
    summary: 'Get the expected temperature of each learnt zone',
    description: 'Over the last ten minutes, from the model learnt in earlier heat-ups.',
    answers: { 200: ExpectedHeat },
  },
  'POST /api/heat/forget': {
    operationId: 'forgetZoneModels',
    tag: 'live',
    right: 'manage',
    summary: 'Forget what was learnt about the zones',
    description: 'For a line that was rebuilt. The service learns the zones again in the next heat-up.',
    answers: { 200: LiveState },
  },
  'POST /api/stage': {
    operationId: 'setStage',
    tag: 'live',
    right: 'act',
    summary: 'Set the stage of the line',
    description: 'null = detect the stage from the readings again.',
    body: input({ stage: orNull(oneOf(STAGES)) }),
    answers: { 200: StageView },
  },
  'POST /api/spools/continue': {
    operationId: 'continueSpool',
    tag: 'live',
    right: 'act',
    summary: 'Continue the spool that ended',
    description:
      'States that the strand made after a stop belongs on the last spool of this run that ended. All strand made since then is added and judged. A spool started since then is joined to it. Returns the spool.',
    answers: { 200: orNull(LiveSpool) },
  },
  'DELETE /api/spools/proposed-change': {
    operationId: 'dismissSpoolChange',
    tag: 'live',
    right: 'act',
    summary: 'Dismiss a proposed spool change',
    description: 'States that the spool was not changed when the winder’s turn counter started again.',
    answers: { 200: LiveState },
  },
  'POST /api/spools/change': {
    operationId: 'changeSpool',
    tag: 'live',
    right: 'act',
    summary: 'Change spool',
    description:
      'States that the full spool was taken off and an empty one put on. Returns the new spool; null = it starts later, when the line winds.',
    answers: { 200: orNull(LiveSpool) },
  },
});
