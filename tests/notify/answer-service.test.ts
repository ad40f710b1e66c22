import { expect, it } from 'vitest';
import type { Alarm, AlarmState } from '../../server/alarm/alarm.ts';
import { awaitsAcknowledgement } from '../../server/alarm/life-cycle.ts';
import { AnswerService, type AnswerServiceParts } from '../../server/notify/answer-service.ts';
import { tokenFor } from '../../server/notify/answer-token.ts';
import { alarm } from '../alarm/well-line.ts';

const SECRET = 'of this test';

/** Of an alarm in a state; `next` = its state once it is acknowledged, null = it is closed. */
function answering(state: AlarmState, next: AlarmState | null) {
  let current: Alarm | null = alarm('blob', { state });
  const parts: Partial<AnswerServiceParts> = {
    store: { pictureOf: () => null } as never,
    clock: () => 0,
    secret: () => SECRET,
    contacts: () => [{ id: 7, name: 'Ada' }] as never,
    alarm: () => current,
    escalatingSinceMs: () => (current !== null && awaitsAcknowledgement(current.state) ? 5 : null),
    acknowledge: (_id, who) => {
      const answered = { ...current!, state: next ?? 'normal', acknowledgedBy: who };
      current = next === null ? null : answered;
      return answered;
    },
  };
  return new AnswerService(parts as AnswerServiceParts);
}

it.each([
  ['unacknowledged', 'acknowledged'],
  ['returnedUnacknowledged', null],
] as const)('reports its own answer to an alarm that is %s', (before, after) => {
  const service = answering(before, after);
  const token = tokenFor({ what: 'alarm', id: 1, sinceMs: 5, contactIds: [7], untilMs: 1000 }, SECRET);
  expect(service.question(token)).toMatchObject({ state: 'open', names: ['Ada'] });
  expect(service.answer(token, 1)).toMatchObject({ state: 'answered', alarm: { acknowledgedBy: 'Ada' } });
  expect(service.question(token).state).toBe(after === null ? 'over' : 'answered');
});
