import { Type } from 'typebox';
import { LineSettings } from '../../settings/line-settings.ts';
import { ProblemView } from '../contract.ts';
import { type Api, DEFAULT_WHO, type RouteContext } from './context.ts';

const SettingsReply = Type.Object({
  settings: LineSettings,
  schema: Type.Unknown({
    description: 'JSON Schema of the settings, with titles, limits and defaults',
  }),
  sourceFixed: Type.Boolean({
    description: 'The source was given at start and cannot be changed here',
  }),
  sourceInUse: Type.String({ description: 'Address of the source that is read now; empty = the usual simulated line' }),
  scenarios: Type.Array(Type.String(), { description: 'What the simulated line can do, by name' }),
});

const LOG_LINES_MAX = 500;

/** Settings of the line, serial ports, the log, the health of the service. */
export function setUpRoutes(api: Api, context: RouteContext): void {
  const { monitor, reader, fixedSource, scenarios } = context;
  const reply = () => ({
    settings: monitor.settings,
    schema: LineSettings,
    sourceFixed: fixedSource !== null,
    sourceInUse: fixedSource ?? monitor.settings.source,
    scenarios: [...scenarios],
  });

  api.get(
    '/api/settings',
    {
      schema: {
        tags: ['set-up'],
        summary: 'Settings of the line',
        response: { 200: SettingsReply, default: ProblemView },
      },
    },
    reply,
  );

  api.put(
    '/api/settings',
    {
      schema: {
        tags: ['set-up'],
        summary: 'Change settings of the line; what is left out stays',
        body: Type.Unknown(),
        response: { 200: SettingsReply, default: ProblemView },
      },
    },
    async (request) => {
      await monitor.applySettings(request.body, DEFAULT_WHO);
      return reply();
    },
  );

  api.get(
    '/api/serial-ports',
    {
      schema: {
        tags: ['set-up'],
        summary: 'Serial ports of this machine',
        response: {
          200: Type.Array(
            Type.Object({
              path: Type.String(),
              stablePath: Type.String(),
              title: Type.String(),
            }),
          ),
          default: ProblemView,
        },
      },
    },
    async () => [...(await context.listSerialPorts())],
  );

  api.get(
    '/api/log',
    {
      schema: {
        tags: ['set-up'],
        summary: 'What people and the service did, newest first',
        querystring: Type.Object({
          limit: Type.Integer({
            minimum: 1,
            maximum: LOG_LINES_MAX,
            default: 100,
          }),
        }),
        response: {
          200: Type.Array(
            Type.Object({
              timeMs: Type.Number(),
              runId: Type.Union([Type.Integer(), Type.Null()]),
              who: Type.String(),
              what: Type.String(),
            }),
          ),
          default: ProblemView,
        },
      },
    },
    (request) =>
      reader
        .logEntries({ limit: request.query.limit })
        .map(({ timeMs, runId, who, what }) => ({ timeMs, runId, who, what })),
  );

  api.get(
    '/health',
    {
      schema: {
        tags: ['set-up'],
        summary: 'Whether the service itself works (not the line)',
        response: {
          200: Type.Object({
            status: Type.Literal('ok'),
            recording: Type.Boolean(),
          }),
        },
      },
    },
    () => ({
      status: 'ok' as const,
      recording: monitor.snapshot().recordTrouble === null,
    }),
  );
}
