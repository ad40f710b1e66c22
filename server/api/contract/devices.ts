import { type Static, Type } from 'typebox';
import { CREDENTIAL_NAME_MAX, DEVICE_RIGHTS, RIGHTS } from '../../entities/device.ts';
import { routes } from './route-table.ts';
import { bool, component, IdParam, input, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';

const Held = oneOf(RIGHTS, 'Each includes those before it: metrics, watch, act, manage');
const HeldByDevice = oneOf(DEVICE_RIGHTS, 'watch, act (includes watch) or manage (includes both)');

export const CredentialView = component(
  'Credential',
  {
    id: int(),
    name: text(),
    right: Held,
    createdMs: num(),
    createdBy: text(),
    lastSeenMs: numOrNull({ description: 'When it was last used, to the minute; null = not yet' }),
  },
  'A paired device, or a token of a program.',
);
export type CredentialView = Static<typeof CredentialView>;

export const MeView = component(
  'Me',
  {
    right: Held,
    device: orNull(
      Type.Object({ id: int(), name: text() }),
      'The paired device or the token that sent this request; null = this machine itself, or the access key',
    ),
  },
  'Who sent this request, and what it may do.',
);
export type MeView = Static<typeof MeView>;

export const DevicesView = component('Devices', {
  devices: list(CredentialView),
  tokens: list(CredentialView),
  accessKey: bool('The service was started with an access key. Pairing replaces it'),
});
export type DevicesView = Static<typeof DevicesView>;

export const InvitationView = component(
  'Invitation',
  {
    code: text({ description: 'Pairs one device, once' }),
    right: Held,
    validMs: num({ description: 'How long the code is valid, ms' }),
    addresses: list(
      text(),
      'Addresses at which other devices may reach the service, the best one first; empty = it listens on this machine only',
    ),
    certificatePage: orNull(text(), 'Where a device first installs the certificate of the house; null = it needs none'),
  },
  'An invitation. Its link is ADDRESS/pair#CODE: the part after # is sent to no server.',
);
export type InvitationView = Static<typeof InvitationView>;

const Name = text({ description: `Its name in the journal, 1 to ${CREDENTIAL_NAME_MAX} characters` });
const SECRET_MAX = 200;

/** Who may use the service: paired devices, and tokens of programs. */
export const devices = routes({
  'GET /api/me': {
    operationId: 'getMe',
    tag: 'access',
    right: 'watch',
    summary: 'Get the caller and its right',
    description: 'The device or token that sent the request.',
    answers: { 200: MeView },
  },
  'GET /api/devices': {
    operationId: 'listDevices',
    tag: 'access',
    right: 'manage',
    summary: 'List paired devices and tokens',
    description: 'Without their secrets, which the service does not know. Removed ones are left out.',
    answers: { 200: DevicesView },
  },
  'POST /api/invitations': {
    operationId: 'inviteDevice',
    tag: 'access',
    right: 'manage',
    summary: 'Invite a device',
    description: 'Returns a code that pairs one device within ten minutes.',
    body: input({ right: HeldByDevice }),
    answers: { 201: InvitationView },
  },
  'GET /api/pairing': {
    operationId: 'getWaysToPair',
    tag: 'access',
    right: 'none',
    summary: 'Get the ways to pair a device',
    description: 'A code always works; the access key only if the service was started with one.',
    answers: { 200: Type.Object({ accessKey: bool() }) },
  },
  'POST /api/devices': {
    operationId: 'pairDevice',
    tag: 'access',
    right: 'none',
    summary: 'Pair this device',
    description: 'With the code of an invitation, or with the access key. Sets the cookie of the session.',
    body: input({
      name: Name,
      code: Type.Optional(text({ minLength: 1, maxLength: SECRET_MAX, description: 'From the link of an invitation' })),
      accessKey: Type.Optional(text({ minLength: 1, maxLength: SECRET_MAX, description: 'Instead of a code' })),
    }),
    answers: { 201: MeView },
  },
  'PUT /api/devices/:id': {
    operationId: 'changeDevice',
    tag: 'access',
    right: 'manage',
    summary: 'Change what a device may do',
    description: 'Applies at once: its live feed is closed and opens again, and what it may no longer do is cut off.',
    params: IdParam,
    body: input({ right: HeldByDevice }),
    answers: { 200: CredentialView },
  },
  'DELETE /api/devices/:id': {
    operationId: 'removeDevice',
    tag: 'access',
    right: 'manage',
    summary: 'Remove a device',
    description: 'It is refused from now on, and its open connections are closed.',
    params: IdParam,
    answers: { 204: null },
  },
  'POST /api/tokens': {
    operationId: 'addToken',
    tag: 'access',
    right: 'manage',
    summary: 'Add a token for a program',
    description: 'Returns the token once. The program sends it as “Authorization: Bearer TOKEN”.',
    body: input({ name: Name, right: Held }),
    answers: { 201: Type.Object({ token: text({ description: 'Shown only now' }), program: CredentialView }) },
  },
  'PUT /api/tokens/:id': {
    operationId: 'changeToken',
    tag: 'access',
    right: 'manage',
    summary: 'Change what a program may do',
    description: 'Applies at once: its live feed is closed, and what it may no longer do is cut off.',
    params: IdParam,
    body: input({ right: Held }),
    answers: { 200: CredentialView },
  },
  'DELETE /api/tokens/:id': {
    operationId: 'removeToken',
    tag: 'access',
    right: 'manage',
    summary: 'Remove the token of a program',
    description: 'It is refused from now on, and its open connections are closed.',
    params: IdParam,
    answers: { 204: null },
  },
});
