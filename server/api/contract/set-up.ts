import { type Static, Type } from 'typebox';
import { LineSettings } from '../../settings/line-settings.ts';
import { routes } from './route-table.ts';
import { given, int, list, named, num, orNull, text, withDefault, yes } from './schema.ts';

const LOG_LINES_MAX = 500;

export const SettingsView = named('Settings', {
  settings: LineSettings,
  schema: Type.Unknown({ description: 'JSON Schema of the settings, with titles, limits and defaults' }),
  sourceFixed: yes('The source was given at start and cannot be changed here'),
  sourceInUse: text({ description: 'Address of the source that is read now; empty = the usual simulated line' }),
  scenarios: list(text(), 'What the simulated line can do, by name'),
});
export type SettingsView = Static<typeof SettingsView>;

/** Settings of the line, serial ports, the log, the health of the service. */
export const setUp = routes({
  'GET /api/settings': {
    operationId: 'getSettings',
    tag: 'set-up',
    summary: 'Settings of the line',
    description: 'With the schema that they are checked by.',
    answers: { 200: SettingsView },
  },
  'PUT /api/settings': {
    operationId: 'changeSettings',
    tag: 'set-up',
    summary: 'Change settings of the line',
    description: 'Settings that are left out keep their value.',
    // Checked where the settings are, in words that a person understands.
    body: Type.Unknown({ description: 'Any of the settings, by name' }),
    answers: { 200: SettingsView },
  },
  'GET /api/serial-ports': {
    operationId: 'listSerialPorts',
    tag: 'set-up',
    summary: 'Serial ports of this machine',
    description: 'To choose the source from.',
    answers: { 200: list(Type.Object({ path: text(), stablePath: text(), title: text() })) },
  },
  'GET /api/log': {
    operationId: 'getLogBook',
    tag: 'set-up',
    summary: 'What users and the service did, newest first',
    description: 'Changes of settings, stages, spools, sections, backups and the like.',
    query: given({ limit: withDefault(int({ minimum: 1, maximum: LOG_LINES_MAX }), 100) }),
    answers: { 200: list(Type.Object({ timeMs: num(), runId: orNull(int()), who: text(), what: text() })) },
  },
  'GET /health': {
    operationId: 'getHealth',
    tag: 'set-up',
    summary: 'Whether the service itself works',
    description: 'Not whether the line does. For a container or a supervisor.',
    answers: { 200: Type.Object({ status: Type.Literal('ok'), recording: yes() }) },
    keyless: true,
  },
});
