import { type Static, Type } from 'typebox';
import { MISSING } from '../../proposal/missing.ts';
import { DROP_CAUSES } from '../../reading/link-counters.ts';
import { ROLES } from '../../reading/names.ts';
import { SHAPES } from '../../reading/shape.ts';
import { LinkView } from './live-state.ts';
import { routes } from './route-table.ts';
import { bool, component, input, int, list, num, numOrNull, oneOf, orNull, text, withDefault } from './schema.ts';

const Role = () => oneOf(ROLES);
const unit = (description: string) => text({ maxLength: 12, description });

const Mapping = Type.Object({
  name: text({ minLength: 1, maxLength: 40, description: 'Name of the field' }),
  role: text({ maxLength: 40 }),
  factor: num({ description: 'Value in its unit = raw value × factor + offset' }),
  offset: num(),
  unit: Type.Optional(unit('Unit of the value after factor and offset; left out = that of the role')),
  calibrated: Type.Optional(bool('Factor and offset were measured, even if they are exactly 1 and 0')),
});

export const IncomingView = component('Incoming', {
  shape: orNull(oneOf(SHAPES), 'null = not recognised yet'),
  readingsPerS: num({ digits: 1, description: 'A reading may take several lines' }),
  lastLine: text({ description: 'As received' }),
  isNoText: bool('Bytes arrive, but they are not text: the baud rate may be wrong'),
  lacksLineEnds: bool('Text arrives, but no line end within the longest line allowed'),
  baud: orNull(
    Type.Object({
      current: int({ description: 'As set' }),
      found: orNull(int(), 'The rate at which the bytes make lines of text; null = none found, or not tried'),
      trying: orNull(int(), 'Being tried now, because what arrives is not text'),
    }),
    'Baud rate; null = the source has none',
  ),
  fields: list(
    Type.Object({
      name: text(),
      unit: text({ description: 'Printed after the value; empty = none' }),
      last: numOrNull(),
      lowest: numOrNull(),
      highest: numOrNull(),
      role: orNull(Role(), 'Its current role'),
      mapping: orNull(Mapping, 'null = its role, if any, comes from its name'),
    }),
    'In the order of the line',
  ),
  proposed: list(
    Type.Object({
      name: text(),
      role: Role(),
      unit: text({ description: 'Empty = the role has one unit only' }),
      factor: num({ description: '1, or the diameter of the wheel in mm where the unit is rpm' }),
      sure: bool('Name, unit and values support it, and no other role is nearly as likely'),
      needsPins: bool('It is a raw count; calibrate it with pin gauges first'),
    }),
    'For fields that have no role yet. A field is not watched until its role is confirmed.',
  ),
  missing: list(oneOf(MISSING), 'What is still needed to watch everything, in the order to ask for it'),
  dropped: list(
    Type.Object({ text: text(), cause: oneOf(DROP_CAUSES) }),
    'The latest lines that could not be read, newest first',
  ),
});
export type IncomingView = Static<typeof IncomingView>;

/** What the line sends, and what each field means. */
export const incoming = routes({
  'GET /api/incoming': {
    operationId: 'getIncoming',
    tag: 'set-up',
    right: 'watch',
    summary: 'Get what the line sends, and what it may mean',
    description: 'Its fields with their values, a proposal for those without a meaning, and what is still missing.',
    answers: { 200: IncomingView },
  },
  'POST /api/source/release': {
    operationId: 'releasePort',
    tag: 'set-up',
    right: 'manage',
    summary: 'Release the port to another program',
    description:
      'For flashing a sketch. Answers once the port is closed. After `forS` seconds the port is opened again automatically; until then the line is not watched.',
    body: input({ forS: withDefault(int({ minimum: 10, maximum: 600, description: 'Seconds' }), 120) }),
    answers: { 200: LinkView },
  },
  'POST /api/source/resume': {
    operationId: 'resumePort',
    tag: 'set-up',
    right: 'manage',
    summary: 'Use a released port again now',
    description: 'Nothing happens if it is not released.',
    answers: { 200: LinkView },
  },
  'PUT /api/mapping': {
    operationId: 'changeMapping',
    tag: 'set-up',
    right: 'manage',
    summary: 'Say what the fields of the line mean',
    description: 'Refused if someone else has changed the mapping since it was read.',
    body: input({
      roles: list(Mapping, 'The whole mapping'),
      before: list(Mapping, 'The mapping as it was read'),
      unused: Type.Optional(
        list(
          text({ minLength: 1, maxLength: 40 }),
          'Fields for which no role is to be proposed again; left out = keep the current list',
        ),
      ),
    }),
    answers: { 200: IncomingView },
  },
});
