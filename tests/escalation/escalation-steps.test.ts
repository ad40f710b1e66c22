import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { ALARM_STATES, type AlarmChange, type AlarmState } from '../../server/alarm/alarm.ts';
import { awaitsAcknowledgement } from '../../server/alarm/life-cycle.ts';
import type { Escalation, EscalationPlan, EscalationStep } from '../../server/escalation/escalation.ts';
import { DEFAULT_RULES } from '../../server/escalation/escalation-rules.ts';
import {
  AGAIN_IF_IT_CAN_WAIT_MS,
  AGAIN_NOT_BEFORE_MS,
  onAlarmChange,
  onTime,
} from '../../server/escalation/escalation-steps.ts';
import { conversationOf } from '../../server/escalation/message.ts';
import { alarmOf, changeOf, contactOf, NIGHT_MS, NO_SPOOL, planOf } from './alarms.ts';

const MIN = 60_000;
const SUPPRESSION = {
  sinceMs: NIGHT_MS,
  untilMs: null,
  untilRunEnds: false,
  reason: '',
  by: null,
  from: null,
  before: 'normal' as const,
  occurred: 0,
};
const raise = (plan: EscalationPlan, alarm = alarmOf('high'), nowMs = NIGHT_MS): EscalationStep =>
  onAlarmChange(null, changeOf('raised', alarm), plan, nowMs);
const names = (step: EscalationStep) =>
  step.notifications.map(({ kind, recipients }) => [kind, ...recipients.map(({ contact }) => contact.name)]);

/** The notifications due at a later time. */
function later(
  { escalation }: Pick<EscalationStep, 'escalation'>,
  plan: EscalationPlan,
  nowMs: number,
): EscalationStep {
  if (escalation === null) throw new Error('no escalation');
  return onTime(escalation, plan, nowMs);
}

/** All notifications over a time, with the minute of each. */
function notified({ escalation }: EscalationStep, plan: EscalationPlan, minutes: number): (string | number)[][] {
  const all: (string | number)[][] = [];
  if (escalation === null) throw new Error('no escalation');
  let now: Escalation = escalation;
  for (let s = 1; s <= minutes * 60; s++) {
    const step = onTime(now, plan, NIGHT_MS + s * 1000);
    now = step.escalation ?? now;
    for (const { kind, recipients } of step.notifications)
      all.push([s / 60, kind, ...recipients.map(({ contact }) => contact.name)]);
  }
  return all;
}

describe('who is notified, and when', () => {
  it('notifies round 1 at once, round 2 if no one answers, and reminds both until someone does', () => {
    const plan = planOf([contactOf(1, 'Ada'), contactOf(2, 'Ben', { round: 2 })]);
    const step = raise(plan);
    expect(names(step)).toEqual([['raised', 'Ada']]);
    expect(notified(step, plan, 16)).toEqual([
      [5, 'escalated', 'Ben'],
      [10, 'reminder', 'Ada', 'Ben'],
      [15, 'reminder', 'Ada', 'Ben'],
    ]);
  });

  it('continues an escalation that started while the clock was ahead', () => {
    const night = { from: '22:00', to: '06:30' };
    const plan = planOf([
      contactOf(1, 'Ada'),
      contactOf(2, 'Ben', { round: 2 }),
      contactOf(3, 'Cleo', { quiet: night }),
    ]);
    const ahead = Date.UTC(2031, 0, 1, 23);
    const step = raise(plan, alarmOf('medium'), ahead);
    expect(step.escalation).toMatchObject({
      roundMs: ahead,
      held: [{ contactId: 3, untilMs: Date.UTC(2031, 0, 2, 6, 30) }],
    });
    const after = notified(step, plan, 9 * 60).map(([minute, ...what]) => [Math.floor(Number(minute)), ...what]);
    // As if it had started now: the next person, reminders, and the quiet contact in the morning.
    expect(after[0]).toEqual([5, 'escalated', 'Ben']);
    expect(after[1]).toEqual([35, 'reminder', 'Ada', 'Ben']);
    // NIGHT_MS is 01:00.
    expect(after.filter(([, kind]) => kind === 'raised')).toEqual([[5 * 60 + 30, 'raised', 'Cleo']]);
  });

  it('sends no flood when the clock jumps forward by years', () => {
    const plan = planOf([contactOf(1, 'Ada'), contactOf(2, 'Ben', { round: 2 }), contactOf(3, 'Cleo', { round: 3 })]);
    const after = notified(raise(plan, alarmOf('high'), Date.UTC(2001, 0, 1)), plan, 4);
    expect(after.map(([, ...what]) => what)).toEqual([['escalated', 'Ben']]);
  });

  it('ends with the acknowledgement, and tells those who were notified', () => {
    const plan = planOf([contactOf(1, 'Ada'), contactOf(2, 'Ben', { round: 2 })]);
    const { escalation } = raise(plan);
    const answered = alarmOf('high', { state: 'acknowledged', acknowledgedBy: 'Ada', acknowledgedMs: NIGHT_MS + MIN });
    const step = onAlarmChange(escalation, changeOf('acknowledged', answered, 'Ada'), plan, NIGHT_MS + MIN);
    expect(names(step)).toEqual([['acknowledged', 'Ada']]);
    expect(step).toMatchObject({ escalation: null, withdraw: true });
  });

  it('continues until the alarm is acknowledged, even when its cause is gone', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const { escalation } = raise(plan);
    const gone = alarmOf('high', { state: 'returnedUnacknowledged', returnedMs: NIGHT_MS + MIN });
    const step = onAlarmChange(escalation, changeOf('returned', gone), plan, NIGHT_MS + MIN);
    expect(step.notifications).toEqual([]);
    expect(notified(step, plan, 6)).toEqual([[5, 'reminder', 'Ada']]);
  });

  it('notifies only of alarms that are unacknowledged', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const called = ALARM_STATES.filter((state) => raise(plan, alarmOf('high', { state })).notifications.length > 0);
    expect(called).toEqual(['unacknowledged', 'latchedUnacknowledged']);
  });

  it('waits while an unacknowledged alarm is suppressed by design, and continues when it is restored', () => {
    const plan = planOf([contactOf(1, 'Ada'), contactOf(2, 'Ben', { round: 2 })]);
    const first = raise(plan);
    const suppression = { ...SUPPRESSION, before: 'unacknowledged' as const, reason: 'while the line is silent' };
    const suppressed = alarmOf('high', { state: 'suppressedByDesign', suppression });
    const away = onAlarmChange(first.escalation, changeOf('suppressed', suppressed), plan, NIGHT_MS + MIN);
    expect(away).toMatchObject({ notifications: [], withdraw: false });
    expect(notified(away, plan, 30)).toEqual([]);
    const gone = alarmOf('high', { state: 'returnedUnacknowledged' });
    const back = onAlarmChange(away.escalation, changeOf('unsuppressed', gone), plan, NIGHT_MS + 2 * MIN);
    expect(back.escalation?.sinceMs).toBe(first.escalation?.sinceMs);
    expect(notified(back, plan, 6)).toEqual([[5, 'escalated', 'Ben']]);
  });

  it('ends if the alarm was acknowledged before it was suppressed', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const suppression = { ...SUPPRESSION, before: 'acknowledged' as const };
    const suppressed = alarmOf('high', { state: 'suppressedByDesign', suppression });
    const step = onAlarmChange(raise(plan).escalation, changeOf('suppressed', suppressed), plan, NIGHT_MS + MIN);
    expect(step).toMatchObject({ escalation: null, notifications: [] });
  });

  it('withdraws messages when an alarm is shelved, and starts again with other keys when it is restored', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const first = raise(plan);
    const shelved = alarmOf('high', { state: 'shelved' });
    const away = onAlarmChange(first.escalation, changeOf('shelved', shelved), plan, NIGHT_MS + MIN);
    expect(away).toMatchObject({ escalation: null, notifications: [], withdraw: true });
    const back = { ...changeOf('unshelved', alarmOf('high')), timeMs: NIGHT_MS + 30 * MIN };
    const restored = onAlarmChange(null, back, plan, NIGHT_MS + 30 * MIN);
    expect(names(restored)).toEqual([['raised', 'Ada']]);
    expect(restored.notifications[0]?.step).not.toBe(first.notifications[0]?.step);
  });

  it('sends high priority during quiet hours, and the rest afterwards if still unacknowledged', () => {
    const quiet = { from: '22:00', to: '06:30' };
    const plan = planOf([contactOf(1, 'Ada', { quiet })]);
    expect(names(raise(plan))).toEqual([['raised', 'Ada']]);
    const medium = raise(plan, alarmOf('medium'));
    expect(medium.notifications).toEqual([]);
    const waking = notified(medium, plan, 5.5 * 60 + 1);
    expect(waking[0]).toEqual([5.5 * 60, 'raised', 'Ada']);
    const answered = alarmOf('medium', { state: 'acknowledged' });
    const over = onAlarmChange(medium.escalation, changeOf('acknowledged', answered, 'Ben'), plan, NIGHT_MS + MIN);
    expect(over).toMatchObject({ escalation: null, notifications: [] });
  });

  it('notifies no one below their lowest priority, and starts with the first round that takes the alarm', () => {
    const plan = planOf([
      contactOf(1, 'Ada', { leastPriority: 'high' }),
      contactOf(2, 'Ben', { leastPriority: 'medium', round: 2 }),
      contactOf(3, 'Cleo', { leastPriority: 'low', round: 3 }),
    ]);
    expect(names(raise(plan, alarmOf('medium')))).toEqual([['raised', 'Ben']]);
    expect(names(raise(plan, alarmOf('low')))).toEqual([['raised', 'Cleo']]);
    expect(names(raise(planOf([contactOf(1, 'Ada', { leastPriority: 'high' })]), alarmOf('low')))).toEqual([]);
  });

  it('collects occurrences within a minute into one message', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    let { escalation } = raise(plan);
    const all: unknown[] = [];
    for (let s = 1; s <= 120; s++) {
      const nowMs = NIGHT_MS + s * 1000;
      // A blob every ten seconds for half a minute.
      const step: EscalationStep =
        s <= 30 && s % 10 === 0
          ? onAlarmChange(escalation, changeOf('again', alarmOf('high', { occurrences: 1 + s / 10 })), plan, nowMs)
          : later({ escalation }, plan, nowMs);
      ({ escalation } = step);
      for (const { kind, alarm } of step.notifications) all.push([s, kind, alarm.occurrences]);
    }
    expect(all).toEqual([[AGAIN_NOT_BEFORE_MS / 1000, 'again', 4]]);
  });

  it('makes one conversation of fourteen blobs that can wait, and not fourteen calls', () => {
    const plan = planOf([contactOf(1, 'Ada', { wakeAboveBlobsPerHour: 20 })]);
    const alarm = alarmOf('high', { facts: { runId: 3 } });
    const first = raise(plan, alarm);
    let { escalation } = first;
    const all = [...first.notifications];
    for (let n = 2; n <= 14; n++) {
      const change = changeOf('again', { ...alarm, occurrences: n });
      const step = onAlarmChange(escalation, change, plan, NIGHT_MS + (n - 1) * 4 * MIN);
      ({ escalation } = step);
      all.push(...step.notifications);
    }
    expect(all.map(({ kind, alarm: { occurrences } }) => [kind, occurrences])).toEqual([
      ['raised', 1],
      ['again', 9],
    ]);
    expect(new Set(all.map((one) => conversationOf(one.alarm)))).toEqual(new Set(['blob-run-3']));
  });

  it('wakes those whose quiet hours held it back once blobs come too fast for them', () => {
    const quiet = { from: '22:00', to: '06:30' };
    const planAfter = (...blobsMs: number[]) =>
      planOf(
        [
          contactOf(1, 'Ada', { quiet, wakeAboveBlobsPerHour: 2 }),
          contactOf(2, 'Ben', { wakeAboveBlobsPerHour: 9, quiet }),
        ],
        { outlook: { ...NO_SPOOL, blobsMs } },
      );
    const first = raise(planAfter(NIGHT_MS));
    expect(first.notifications).toEqual([]);
    const third = later(first, planAfter(NIGHT_MS, NIGHT_MS + MIN, NIGHT_MS + 2 * MIN), NIGHT_MS + 2 * MIN);
    expect(names(third)).toEqual([['raised', 'Ada']]);
    expect(third.notifications[0]!.recipients[0]!.urgency).toEqual({
      getUp: true,
      why: '3 blobs in the last hour, and at most 2 can wait.',
    });
    expect(third.escalation?.held.map(({ contactId }) => contactId)).toEqual([2]);
  });

  it('reminds of what can wait no more often than of an alarm of medium priority', () => {
    const plan = planOf([contactOf(1, 'Ada', { wakeAboveBlobsPerHour: 5 })]);
    expect(notified(raise(plan), plan, 31)).toEqual([[30, 'reminder', 'Ada']]);
  });

  it('starts again with other keys when an acknowledged alarm occurs again', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const first = raise(plan);
    const again = onAlarmChange(
      null,
      changeOf('again', alarmOf('high', { occurrences: 2 })),
      plan,
      NIGHT_MS + 10 * MIN,
    );
    expect(names(again)).toEqual([['raised', 'Ada']]);
    expect(again.notifications[0]?.step).not.toBe(first.notifications[0]?.step);
  });

  it('goes to the next round at once where every channel of the round before fails', () => {
    const contacts = [contactOf(1, 'Ada'), contactOf(2, 'Ben', { round: 2 })];
    const first = raise(planOf(contacts));
    const failing = planOf(contacts, { failingChannels: new Set([10]) });
    expect(names(later(first, failing, NIGHT_MS + 3000))).toEqual([['escalated', 'Ben']]);
  });

  it('goes to the next round at once where the last channel of the round before is gone', () => {
    const ben = contactOf(2, 'Ben', { round: 2 });
    const first = raise(planOf([contactOf(1, 'Ada'), ben]));
    const gone = planOf([contactOf(1, 'Ada', { channelIds: [] }), ben]);
    expect(names(later(first, gone, NIGHT_MS + 3000))).toEqual([['escalated', 'Ben']]);
  });

  it('notifies of an alarm as soon as there is someone to notify', () => {
    const first = raise(planOf([]));
    expect(first.notifications).toEqual([]);
    expect(names(later(first, planOf([contactOf(1, 'Ada')]), NIGHT_MS + MIN))).toEqual([['raised', 'Ada']]);
  });

  it('says since when an alarm waits, and for how long', () => {
    const plan = planOf([contactOf(1, 'Ada'), contactOf(2, 'Ben', { round: 2 })]);
    const alarm = alarmOf('high');
    const change = { ...changeOf('raised', alarm), timeMs: NIGHT_MS - 2000.4 };
    const first = onAlarmChange(null, change, plan, NIGHT_MS);
    expect(first.notifications).toMatchObject([{ alarm, sinceMs: NIGHT_MS - 2000, waitedMs: 0, by: null }]);
    expect(later(first, plan, NIGHT_MS + 5 * MIN).notifications).toMatchObject([
      { kind: 'escalated', sinceMs: NIGHT_MS - 2000, waitedMs: 5 * MIN, by: null },
    ]);
  });

  it('says who acknowledged and after how long', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const answered = alarmOf('high', { state: 'acknowledged' });
    const change = changeOf('acknowledged', answered, 'Ben');
    const { notifications } = onAlarmChange(raise(plan).escalation, change, plan, NIGHT_MS + 3 * MIN);
    expect(notifications).toMatchObject([{ alarm: answered, by: 'Ben', waitedMs: 3 * MIN, sinceMs: NIGHT_MS }]);
  });

  it('tells no one of an acknowledgement in their quiet hours, and says nothing when it is taken out of service', () => {
    const quiet = { from: '22:00', to: '06:30' };
    const plan = planOf([contactOf(1, 'Ada'), contactOf(2, 'Ben', { quiet })]);
    const first = raise(plan);
    expect(names(first)).toEqual([['raised', 'Ada', 'Ben']]);
    const end = (what: AlarmChange['step'], state: AlarmState) =>
      onAlarmChange(first.escalation, changeOf(what, alarmOf('high', { state }), 'Cleo'), plan, NIGHT_MS + MIN);
    expect(names(end('acknowledged', 'acknowledged'))).toEqual([['acknowledged', 'Ada']]);
    expect(names(end('outOfService', 'outOfService'))).toEqual([]);
  });

  it('withdraws nothing for an alarm that notified no one', () => {
    const answered = changeOf('acknowledged', alarmOf('high', { state: 'acknowledged' }), 'Ada');
    const nothing = { escalation: null, notifications: [], withdraw: false };
    const plan = planOf([contactOf(1, 'Ada')]);
    expect(onAlarmChange(null, answered, plan, NIGHT_MS)).toEqual(nothing);
    const gone = changeOf('returned', alarmOf('high', { state: 'returnedUnacknowledged' }));
    expect(onAlarmChange(null, gone, plan, NIGHT_MS)).toEqual(nothing);
  });

  it('withdraws no message while the escalation continues', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const first = raise(plan);
    expect(first.withdraw).toBe(false);
    expect(later(first, plan, NIGHT_MS + 5 * MIN).withdraw).toBe(false);
  });

  it('continues with the alarm as it is after each of its steps', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const again = alarmOf('high', { occurrences: 2, sentence: 'Blob of 2.10 mm at 55.00 m of spool 1.' });
    const step = onAlarmChange(raise(plan).escalation, changeOf('again', again), plan, NIGHT_MS + MIN);
    expect(step.notifications).toMatchObject([{ kind: 'again', alarm: again }]);
    const suppression = { ...SUPPRESSION, before: 'unacknowledged' as const };
    const suppressed = alarmOf('high', { state: 'suppressedByDesign', suppression });
    const away = onAlarmChange(step.escalation, changeOf('suppressed', suppressed), plan, NIGHT_MS + MIN);
    expect(away.escalation?.alarm).toBe(suppressed);
  });

  it('sends new occurrences to those notified so far, but not to the next round', () => {
    const plan = planOf([
      contactOf(1, 'Ada', { leastPriority: 'high' }),
      contactOf(2, 'Ben'),
      contactOf(3, 'Cleo', { round: 2 }),
    ]);
    const again = changeOf('again', alarmOf('medium', { occurrences: 2 }));
    const step = onAlarmChange(
      raise(plan, alarmOf('medium')).escalation,
      again,
      plan,
      NIGHT_MS + AGAIN_IF_IT_CAN_WAIT_MS,
    );
    expect(names(step)[0]).toEqual(['again', 'Ben']);
  });

  it('counts the time until a reminder from the last message', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const again = changeOf('again', alarmOf('high', { occurrences: 2 }));
    const step = onAlarmChange(raise(plan).escalation, again, plan, NIGHT_MS + 4 * MIN);
    expect(names(step)).toEqual([['again', 'Ada']]);
    expect(names(later(step, plan, NIGHT_MS + 9 * MIN - 1000))).toEqual([]);
    expect(names(later(step, plan, NIGHT_MS + 9 * MIN))).toEqual([['reminder', 'Ada']]);
  });

  it('sends no reminders where their interval is 0', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    expect(notified(raise(plan, alarmOf('low')), plan, 120)).toEqual([]);
  });

  it('reminds no one before there is someone to notify', () => {
    const plan = planOf([]);
    expect(notified(raise(plan), plan, 11)).toEqual([]);
  });

  it('delays a notification once, however often the alarm occurs in the quiet hours', () => {
    const plan = planOf([contactOf(1, 'Ada', { quiet: { from: '22:00', to: '06:30' } })]);
    const first = raise(plan, alarmOf('medium'));
    const again = changeOf('again', alarmOf('medium', { occurrences: 2 }));
    const step = onAlarmChange(first.escalation, again, plan, NIGHT_MS + 2 * MIN);
    expect(step.escalation?.held).toEqual([{ contactId: 1, untilMs: NIGHT_MS + 5.5 * 60 * MIN }]);
    const woken = later(step, plan, NIGHT_MS + 5.5 * 60 * MIN);
    expect(names(woken).filter(([kind]) => kind === 'raised')).toEqual([['raised', 'Ada']]);
    expect(woken.escalation?.held).toEqual([]);
  });

  it('waits for the next round while one channel of the rounds before works', () => {
    const contacts = [contactOf(1, 'Ada', { channelIds: [10, 11] }), contactOf(2, 'Ben', { round: 2 })];
    const plan = planOf(contacts, { failingChannels: new Set([10]) });
    expect(names(later(raise(plan), plan, NIGHT_MS + 3000))).toEqual([]);
  });

  it('skips people without a channel, and takes the rounds by number', () => {
    const plan = planOf([
      contactOf(1, 'Cleo', { round: 4 }),
      contactOf(2, 'Ben', { round: 3 }),
      contactOf(3, 'Dan', { round: 2, channelIds: [] }),
      contactOf(4, 'Ada'),
    ]);
    const after = notified(raise(plan), plan, 14).filter(([, kind]) => kind === 'escalated');
    expect(after).toEqual([
      [5, 'escalated', 'Ben'],
      [10, 'escalated', 'Cleo'],
    ]);
  });

  it('reminds on time after a message that was dated by a clock ahead', () => {
    const plan = planOf([contactOf(1, 'Ada'), contactOf(2, 'Ben', { round: 2 }), contactOf(3, 'Cleo', { round: 3 })]);
    const escalated = later(raise(plan), plan, Date.UTC(2031, 0, 1));
    expect(names(escalated)).toEqual([['escalated', 'Ben']]);
    expect(notified(escalated, plan, 6)[0]).toEqual([5 + 1 / 60, 'escalated', 'Cleo']);
    const alone = planOf([contactOf(1, 'Ada')]);
    const reminded = later(raise(alone), alone, Date.UTC(2031, 0, 1));
    expect(names(reminded)).toEqual([['reminder', 'Ada']]);
    expect(notified(reminded, alone, 6)).toEqual([[5 + 1 / 60, 'reminder', 'Ada']]);
  });

  it('gives every step of an alarm a unique key in any sequence of events', () => {
    const contacts = [
      contactOf(1, 'Ada', { quiet: { from: '00:00', to: '01:20' } }),
      contactOf(2, 'Ben', { round: 2 }),
      contactOf(3, 'Cleo', { round: 3 }),
    ];
    const rules = { ...DEFAULT_RULES, escalateAfterMin: 2, remindEveryMin: { high: 3, medium: 2, low: 1 } };
    const moves = fc.array(fc.constantFrom('wait', 'again', 'return', 'acknowledge'), { maxLength: 60 });
    fc.assert(
      fc.property(moves, fc.constantFrom('high' as const, 'medium' as const), (taken, priority) => {
        const plan = planOf(contacts, { rules });
        let alarm = alarmOf(priority);
        let step = raise(plan, alarm);
        const seen = new Set<string>();
        const checkKeys = () => {
          for (const notification of step.notifications) {
            for (const { contact } of notification.recipients) {
              const key = `${notification.step} ${contact.id}`;
              expect(seen.has(key)).toBe(false);
              seen.add(key);
            }
          }
        };
        checkKeys();
        taken.forEach((move, index) => {
          const nowMs = NIGHT_MS + (index + 1) * 50_000;
          const known = step.escalation;
          if (move === 'wait') {
            step =
              known === null ? { escalation: null, notifications: [], withdraw: false } : onTime(known, plan, nowMs);
          } else if (move === 'again') {
            alarm = { ...alarm, state: 'unacknowledged', occurrences: alarm.occurrences + 1, lastOccurredMs: nowMs };
            step = onAlarmChange(known, changeOf('again', alarm), plan, nowMs);
          } else if (move === 'return') {
            if (alarm.state !== 'unacknowledged') return;
            alarm = { ...alarm, state: 'returnedUnacknowledged' };
            step = onAlarmChange(known, changeOf('returned', alarm), plan, nowMs);
          } else {
            if (!awaitsAcknowledgement(alarm.state)) return;
            alarm = { ...alarm, state: 'acknowledged', acknowledgedBy: 'Ada' };
            step = onAlarmChange(known, changeOf('acknowledged', alarm, 'Ada'), plan, nowMs);
            expect(step.escalation).toBeNull();
          }
          checkKeys();
        });
      }),
    );
  });
});
