import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { ALARM_STATES } from '../../server/alarm/alarm.ts';
import { awaitsAcknowledgement } from '../../server/alarm/life-cycle.ts';
import type { Escalation, EscalationPlan, EscalationStep } from '../../server/escalation/escalation.ts';
import { DEFAULT_RULES } from '../../server/escalation/escalation-rules.ts';
import { AGAIN_NOT_BEFORE_MS, onAlarmChange, onTime } from '../../server/escalation/escalation-steps.ts';
import { alarmOf, changeOf, contactOf, NIGHT_MS, planOf } from './alarms.ts';

const MIN = 60_000;
const NO_REST = {
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
  step.notifications.map(({ kind, contacts }) => [kind, ...contacts.map((c) => c.name)]);

/** All that is told over a time, with the minute in which it is. */
function told(escalation: Escalation, plan: EscalationPlan, minutes: number): (string | number)[][] {
  const all: (string | number)[][] = [];
  let now: Escalation = escalation;
  for (let s = 1; s <= minutes * 60; s++) {
    const step = onTime(now, plan, NIGHT_MS + s * 1000);
    now = step.escalation ?? now;
    for (const { kind, contacts } of step.notifications) all.push([s / 60, kind, ...contacts.map((c) => c.name)]);
  }
  return all;
}

describe('who is called, and when', () => {
  it('calls round 1 at once, round 2 when nobody answered, and both again until somebody does', () => {
    const plan = planOf([contactOf(1, 'Ada'), contactOf(2, 'Ben', { round: 2 })]);
    const step = raise(plan);
    expect(names(step)).toEqual([['raised', 'Ada']]);
    expect(told(step.escalation!, plan, 16)).toEqual([
      [5, 'escalated', 'Ben'],
      [10, 'reminder', 'Ada', 'Ben'],
      [15, 'reminder', 'Ada', 'Ben'],
    ]);
  });

  it('does not wait for the year of a calling that began while the clock was ahead', () => {
    const night = { from: '22:00', to: '06:30' };
    const plan = planOf([
      contactOf(1, 'Ada'),
      contactOf(2, 'Ben', { round: 2 }),
      contactOf(3, 'Cleo', { quiet: night }),
    ]);
    const ahead = Date.UTC(2031, 0, 1, 23);
    const { escalation } = raise(plan, alarmOf('medium'), ahead);
    expect(escalation).toMatchObject({
      roundMs: ahead,
      held: [{ contactId: 3, untilMs: Date.UTC(2031, 0, 2, 6, 30) }],
    });
    const after = told(escalation!, plan, 9 * 60).map(([minute, ...what]) => [Math.floor(Number(minute)), ...what]);
    // As if it had begun now: the next person, reminders, and who slept in the morning.
    expect(after[0]).toEqual([5, 'escalated', 'Ben']);
    expect(after[1]).toEqual([35, 'reminder', 'Ada', 'Ben']);
    // NIGHT_MS is 01:00.
    expect(after.filter(([, kind]) => kind === 'raised')).toEqual([[5 * 60 + 30, 'raised', 'Cleo']]);
  });

  it('sends no flood when the clock is put forward by years', () => {
    const plan = planOf([contactOf(1, 'Ada'), contactOf(2, 'Ben', { round: 2 }), contactOf(3, 'Cleo', { round: 3 })]);
    const { escalation } = raise(plan, alarmOf('high'), Date.UTC(2001, 0, 1));
    const after = told(escalation!, plan, 4);
    expect(after.map(([, ...what]) => what)).toEqual([['escalated', 'Ben']]);
  });

  it('ends with the acknowledgement, of which those hear who were told', () => {
    const plan = planOf([contactOf(1, 'Ada'), contactOf(2, 'Ben', { round: 2 })]);
    const { escalation } = raise(plan);
    const answered = alarmOf('high', { state: 'acknowledged', acknowledgedBy: 'Ada', acknowledgedMs: NIGHT_MS + MIN });
    const step = onAlarmChange(escalation, changeOf('acknowledged', answered, 'Ada'), plan, NIGHT_MS + MIN);
    expect(names(step)).toEqual([['acknowledged', 'Ada']]);
    expect(step).toMatchObject({ escalation: null, withdraw: true });
  });

  it('goes on while nobody has acknowledged, even when the cause is gone', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const { escalation } = raise(plan);
    const gone = alarmOf('high', { state: 'returnedUnacknowledged', returnedMs: NIGHT_MS + MIN });
    const step = onAlarmChange(escalation, changeOf('returned', gone), plan, NIGHT_MS + MIN);
    expect(step.notifications).toEqual([]);
    expect(told(step.escalation!, plan, 6)).toEqual([[5, 'reminder', 'Ada']]);
  });

  it('wakes nobody for an alarm in any state but those that wait for an acknowledgement', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const called = ALARM_STATES.filter((state) => raise(plan, alarmOf('high', { state })).notifications.length > 0);
    expect(called).toEqual(['unacknowledged', 'latchedUnacknowledged']);
  });

  it('waits while the design suppresses what nobody has answered, and goes on when it is back', () => {
    const plan = planOf([contactOf(1, 'Ada'), contactOf(2, 'Ben', { round: 2 })]);
    const first = raise(plan);
    const suppression = { ...NO_REST, before: 'unacknowledged' as const, reason: 'while the line is silent' };
    const suppressed = alarmOf('high', { state: 'suppressedByDesign', suppression });
    const away = onAlarmChange(first.escalation, changeOf('suppressed', suppressed), plan, NIGHT_MS + MIN);
    expect(away).toMatchObject({ notifications: [], withdraw: false });
    expect(told(away.escalation!, plan, 30)).toEqual([]);
    const gone = alarmOf('high', { state: 'returnedUnacknowledged' });
    const back = onAlarmChange(away.escalation, changeOf('unsuppressed', gone), plan, NIGHT_MS + 2 * MIN);
    expect(back.escalation?.sinceMs).toBe(first.escalation?.sinceMs);
    expect(told(back.escalation!, plan, 6)).toEqual([[5, 'escalated', 'Ben']]);
  });

  it('ends where the alarm was answered before it was suppressed', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const suppression = { ...NO_REST, before: 'acknowledged' as const };
    const suppressed = alarmOf('high', { state: 'suppressedByDesign', suppression });
    const step = onAlarmChange(raise(plan).escalation, changeOf('suppressed', suppressed), plan, NIGHT_MS + MIN);
    expect(step).toMatchObject({ escalation: null, notifications: [] });
  });

  it('withdraws its calling when an alarm is shelved, and calls anew, with other keys, when it comes back', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    const first = raise(plan);
    const shelved = alarmOf('high', { state: 'shelved' });
    const away = onAlarmChange(first.escalation, changeOf('shelved', shelved), plan, NIGHT_MS + MIN);
    expect(away).toMatchObject({ escalation: null, notifications: [], withdraw: true });
    const back = { ...changeOf('unshelved', alarmOf('high')), timeMs: NIGHT_MS + 30 * MIN };
    const anew = onAlarmChange(null, back, plan, NIGHT_MS + 30 * MIN);
    expect(names(anew)).toEqual([['raised', 'Ada']]);
    expect(anew.notifications[0]?.step).not.toBe(first.notifications[0]?.step);
  });

  it('tells high priority through quiet hours, holds the rest back until they end, and then only if it still waits', () => {
    const quiet = { from: '22:00', to: '06:30' };
    const plan = planOf([contactOf(1, 'Ada', { quiet })]);
    expect(names(raise(plan))).toEqual([['raised', 'Ada']]);
    const medium = raise(plan, alarmOf('medium'));
    expect(medium.notifications).toEqual([]);
    const waking = told(medium.escalation!, plan, 5.5 * 60 + 1);
    expect(waking[0]).toEqual([5.5 * 60, 'raised', 'Ada']);
    const answered = alarmOf('medium', { state: 'acknowledged' });
    const over = onAlarmChange(medium.escalation, changeOf('acknowledged', answered, 'Ben'), plan, NIGHT_MS + MIN);
    expect(over).toMatchObject({ escalation: null, notifications: [] });
  });

  it('tells nobody below the priority they want, and begins with the first round that wants it', () => {
    const plan = planOf([
      contactOf(1, 'Ada', { leastPriority: 'high' }),
      contactOf(2, 'Ben', { leastPriority: 'medium', round: 2 }),
      contactOf(3, 'Cleo', { leastPriority: 'low', round: 3 }),
    ]);
    expect(names(raise(plan, alarmOf('medium')))).toEqual([['raised', 'Ben']]);
    expect(names(raise(plan, alarmOf('low')))).toEqual([['raised', 'Cleo']]);
    expect(names(raise(planOf([contactOf(1, 'Ada', { leastPriority: 'high' })]), alarmOf('low')))).toEqual([]);
  });

  it('gathers what happens again within a minute into one message', () => {
    const plan = planOf([contactOf(1, 'Ada')]);
    let { escalation } = raise(plan);
    const all: unknown[] = [];
    for (let s = 1; s <= 120; s++) {
      const nowMs = NIGHT_MS + s * 1000;
      // A blob every ten seconds for half a minute.
      const step: EscalationStep =
        s <= 30 && s % 10 === 0
          ? onAlarmChange(escalation, changeOf('again', alarmOf('high', { occurrences: 1 + s / 10 })), plan, nowMs)
          : onTime(escalation!, plan, nowMs);
      ({ escalation } = step);
      for (const { kind, alarm } of step.notifications) all.push([s, kind, alarm.occurrences]);
    }
    expect(all).toEqual([[AGAIN_NOT_BEFORE_MS / 1000, 'again', 4]]);
  });

  it('calls anew, with other keys, when an acknowledged alarm happens again', () => {
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
    const { escalation } = raise(planOf(contacts));
    const failing = planOf(contacts, { failingChannels: new Set([10]) });
    expect(names(onTime(escalation!, failing, NIGHT_MS + 3000))).toEqual([['escalated', 'Ben']]);
  });

  it('goes to the next round at once where the last channel of the round before is gone', () => {
    const ben = contactOf(2, 'Ben', { round: 2 });
    const { escalation } = raise(planOf([contactOf(1, 'Ada'), ben]));
    const gone = planOf([contactOf(1, 'Ada', { channelIds: [] }), ben]);
    expect(names(onTime(escalation!, gone, NIGHT_MS + 3000))).toEqual([['escalated', 'Ben']]);
  });

  it('takes up an alarm that nobody could be told of as soon as somebody is there', () => {
    const { escalation, notifications } = raise(planOf([]));
    expect(notifications).toEqual([]);
    expect(names(onTime(escalation!, planOf([contactOf(1, 'Ada')]), NIGHT_MS + MIN))).toEqual([['raised', 'Ada']]);
  });

  it('gives every step of one alarm a key of its own, whatever happens in whatever order', () => {
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
        const look = () => {
          for (const notification of step.notifications) {
            for (const contact of notification.contacts) {
              const key = `${notification.step} ${contact.id}`;
              expect(seen.has(key)).toBe(false);
              seen.add(key);
            }
          }
        };
        look();
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
          look();
        });
      }),
    );
  });
});
