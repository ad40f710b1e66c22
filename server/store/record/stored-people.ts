import { type TSchema, Type } from 'typebox';
import { Compile } from 'typebox/compile';
import { PRIORITIES } from '../../alarm/alarm.ts';
import { CHANNEL_KINDS } from '../../escalation/channel.ts';
import { ENTRY_STATES } from '../../escalation/outbox-entry.ts';
import { requireShape } from './stored-shapes.ts';

/** What the JSON about people and messages must hold, so that the service can go on with it. */
const whole = () => Type.Integer();
const text = () => Type.String();
const oneOf = (values: readonly string[]) => Type.Unsafe<string>({ type: 'string', enum: [...values] });
const stored = <T>(schema: TSchema) => {
  const shape = Compile(schema);
  return (json: string): T => {
    const value = JSON.parse(json);
    requireShape(shape, value);
    return value;
  };
};

/** Each throws an Error if the JSON is not what it should be. */
export const storedChannelSettings = stored<object>(Type.Object({ kind: oneOf(CHANNEL_KINDS) }));
export const storedObject = stored<object>(Type.Object({}));
export const storedList = stored<unknown>(Type.Array(Type.Object({})));
export const storedContact = stored<object>(
  Type.Object({
    name: text(),
    channelIds: Type.Array(whole()),
    leastPriority: oneOf(PRIORITIES),
    quiet: Type.Union([Type.Null(), Type.Object({ from: text(), to: text() })]),
    round: whole(),
  }),
);
export const storedEntry = stored<object>(
  Type.Object({
    seq: whole(),
    channelId: whole(),
    to: text(),
    message: Type.Object({ key: text() }),
    createdMs: Type.Number(),
    expiresMs: Type.Number(),
    state: oneOf(ENTRY_STATES),
    attempts: whole(),
    nextMs: Type.Number(),
  }),
);
