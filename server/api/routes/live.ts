import { Type } from 'typebox';
import { STAGES } from '../../strand/stage.ts';
import { ExpectedHeat, LiveSpool, LiveState, ProblemView } from '../contract.ts';
import { liveView } from '../live-view.ts';
import { round } from '../views.ts';
import { type Api, By, DEFAULT_WHO, type RouteContext } from './context.ts';

/** The line as it runs: state, stage, spool change. */
export function liveRoutes(api: Api, context: RouteContext): void {
  const { monitor, feed, boot, people } = context;
  const state = () => liveView(monitor, boot, people.troubles());

  api.get(
    '/api/state',
    {
      schema: {
        tags: ['live'],
        summary: 'The live state',
        response: { 200: LiveState, default: ProblemView },
      },
    },
    () => state(),
  );

  api.get(
    '/live',
    {
      websocket: true,
      schema: {
        tags: ['live'],
        summary: 'WebSocket: readings about 25 times a second, the state 4 times, as JSON',
      },
    },
    (socket) => feed.add(socket),
  );

  api.get(
    '/api/heat/expected',
    {
      schema: {
        tags: ['live'],
        summary: 'Where the reading of each learnt zone was expected over the last ten minutes',
        response: { 200: ExpectedHeat, default: ProblemView },
      },
    },
    () => ({
      zones: [...monitor.expectedPast()].map(([zone, past]) => ({
        zone,
        timeMs: past.map(({ timeMs }) => round(timeMs, 0)),
        lowC: past.map(({ lowC }) => round(lowC, 1)),
        highC: past.map(({ highC }) => round(highC, 1)),
      })),
    }),
  );

  api.post(
    '/api/heat/forget',
    {
      schema: {
        tags: ['live'],
        summary: 'Forget what was learnt of the zones: after the line was rebuilt',
        response: { 200: LiveState, default: ProblemView },
      },
    },
    () => {
      monitor.forgetZoneModels(DEFAULT_WHO);
      return state();
    },
  );

  api.post(
    '/api/stage',
    {
      schema: {
        tags: ['live'],
        summary: "Say which stage the line is in; null = let the line's own signs decide again",
        body: Type.Object(
          {
            stage: Type.Union([
              Type.Unsafe<(typeof STAGES)[number]>({
                type: 'string',
                enum: STAGES,
              }),
              Type.Null(),
            ]),
            by: By,
          },
          { additionalProperties: false },
        ),
        response: { 200: LiveState.properties.stage, default: ProblemView },
      },
    },
    (request) => {
      monitor.setStage(request.body.stage, request.body.by ?? DEFAULT_WHO);
      return state().stage;
    },
  );

  api.post(
    '/api/spools/change',
    {
      schema: {
        tags: ['live'],
        summary: 'The full spool was taken off and an empty one put on',
        body: Type.Optional(Type.Union([Type.Object({ by: By }, { additionalProperties: false }), Type.Null()])),
        response: {
          200: Type.Union([LiveSpool, Type.Null()]),
          default: ProblemView,
        },
      },
    },
    (request) => {
      monitor.changeSpool(request.body?.by ?? DEFAULT_WHO);
      return state().spool;
    },
  );
}
