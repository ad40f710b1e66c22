import { type Static, Type } from 'typebox';
import { LineSettings } from '../../settings/line-settings.ts';
import { routes } from './route-table.ts';
import { bool, component, input, int, list, num, orNull, text, withDefault } from './schema.ts';

const LOG_LINES_MAX = 500;

export const SerialPorts = list(
  Type.Object({
    path: text(),
    stablePath: text({ description: 'Stays the same after replugging if the system has such a path' }),
    title: text(),
    problem: orNull(text(), 'Why it cannot be used now; null = no reason is known'),
  }),
);

export const SettingsView = component('Settings', {
  settings: LineSettings,
  schema: Type.Unknown({ description: 'JSON Schema of the settings, with titles, limits and defaults' }),
  reset: list(
    text(),
    'Names of settings that have their defaults, because what was saved could not be read; save each to end this',
  ),
  sourceFixed: bool(
    'The source was set on the command line: a new `source` is kept, but used only once the service is started without one',
  ),
  sourceInUse: text({ description: 'Address of the source being read; empty = the default simulated line' }),
  scenarios: list(text(), 'Names of the scenarios of the simulated line'),
});
export type SettingsView = Static<typeof SettingsView>;

/** Settings of the line, serial ports, the log, the health of the service. */
export const setUp = routes({
  'GET /api/settings': {
    operationId: 'getSettings',
    tag: 'set-up',
    right: 'watch',
    summary: 'Get the settings of the line',
    description: 'Also returns the schema that they are checked against.',
    answers: { 200: SettingsView },
  },
  'PUT /api/settings': {
    operationId: 'changeSettings',
    tag: 'set-up',
    right: 'manage',
    summary: 'Change the settings of the line',
    description:
      'Settings that are left out keep their value. `sourceInUse` in the answer is what is read now; it is not the new `source` if `sourceFixed`.',
    // Checked in `server/settings/`, which explains better what is wrong.
    body: Type.Unknown({ description: 'Any of the settings, by name' }),
    answers: { 200: SettingsView },
  },
  'GET /api/serial-ports': {
    operationId: 'listSerialPorts',
    tag: 'set-up',
    right: 'watch',
    summary: 'List the serial ports of this machine',
    description: 'Ports that can be used as the source of reading lines.',
    answers: { 200: SerialPorts },
  },
  'GET /api/log': {
    operationId: 'getLog',
    tag: 'set-up',
    right: 'watch',
    summary: 'Get the log of what users and the service did, newest first',
    description: 'Changes of settings, stages, spools and sections, backups and the like.',
    query: input({ limit: withDefault(int({ minimum: 1, maximum: LOG_LINES_MAX }), 100) }),
    answers: { 200: list(Type.Object({ timeMs: num(), runId: orNull(int()), who: text(), what: text() })) },
  },
  'GET /health': {
    operationId: 'getHealth',
    tag: 'set-up',
    right: 'none',
    summary: 'Check whether the service itself works',
    description: 'Does not cover the line. For a container or a process supervisor.',
    answers: { 200: Type.Object({ status: Type.Literal('ok'), recording: bool('Readings are being stored') }) },
  },
  'GET /ready': {
    operationId: 'getReadiness',
    tag: 'set-up',
    right: 'none',
    summary: 'Check whether the line is being watched',
    description:
      'The source is open, a reading arrived within 10 s, what arrived was processed within 10 s, and the record can be written. Otherwise 503, with the reasons for this machine and paired devices. Do not restart the service when this fails: the reason may be an unplugged cable.',
    answers: { 200: Type.Object({ status: Type.Literal('watching') }) },
  },
});
