import { type TSchema, Type } from 'typebox';
import { Compile } from 'typebox/compile';
import { ALARM_TYPES, PRIORITIES } from '../../alarm/alarm.ts';
import { CHANNEL_KINDS, type ChannelState } from '../../escalation/channel.ts';
import type { Escalation } from '../../escalation/escalation.ts';
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
export const storedChannelSettings = stored<object>(
  Type.Object(
    { kind: oneOf(CHANNEL_KINDS) },
    // Which fields there are depends on the kind and on the version that stored them.
    { additionalProperties: Type.Union([text(), Type.Number()]) },
  ),
);
const minutes = () => Type.Number({ minimum: 0 });
/** Each rule may be missing, because it was added later. */
export const storedRules = stored<object>(
  Type.Partial(
    Type.Object({
      pageAddress: text(),
      escalateAfterMin: minutes(),
      remindEveryMin: Type.Object({ high: minutes(), medium: minutes(), low: minutes() }),
      drill: Type.Union([Type.Null(), Type.Object({ weekdays: Type.Array(whole()), at: text() })]),
      drillAnswerWithinMin: minutes(),
      heartbeatAddress: text(),
      heartbeatEveryS: Type.Number({ minimum: 1 }),
    }),
  ),
);
export const storedContact = stored<object>(
  Type.Object({
    name: text(),
    channelIds: Type.Array(whole()),
    leastPriority: oneOf(PRIORITIES),
    quiet: Type.Union([Type.Null(), Type.Object({ from: text(), to: text() })]),
    round: whole(),
  }),
);
export const storedChannelState = stored<ChannelState>(
  Type.Object({
    phase: oneOf(['untried', 'working', 'failing'] satisfies ChannelState['phase'][]),
    sinceMs: Type.Number(),
    text: text(),
    remedy: text(),
    lastDeliveredMs: Type.Union([Type.Null(), Type.Number()]),
  }),
);
export const storedDrill = stored<object>(
  Type.Object({
    startedMs: Type.Number(),
    by: text(),
    untilMs: Type.Number(),
    people: Type.Array(
      Type.Object({ contactId: whole(), name: text(), confirmedMs: Type.Union([Type.Null(), Type.Number()]) }),
    ),
  }),
);
export const storedEscalations = stored<Escalation[]>(
  Type.Array(
    Type.Object({
      alarm: Type.Object({ id: whole(), type: oneOf(ALARM_TYPES), priority: oneOf(PRIORITIES) }),
      sinceMs: Type.Number(),
      startedMs: Type.Number(),
      round: whole(),
      roundMs: Type.Number(),
      toldMs: Type.Number(),
      toldOccurrences: Type.Number(),
      reminders: whole(),
      told: Type.Array(whole()),
      held: Type.Array(Type.Object({ contactId: whole(), untilMs: Type.Number() })),
    }),
  ),
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
