import { h } from 'preact';
import { renderToStaticMarkup } from 'preact-render-to-string';
import { describe, expect, test } from 'vitest';
import { alarmTypeView } from '../../server/api/alarm-views.ts';
import type { AlarmLoadView } from '../../server/api/contract/alarm-journal.ts';
import type { AlarmTypeView, AlarmView } from '../../server/api/contract/alarms.ts';
import type { RunDetail } from '../../server/api/contract/runs-and-spools.ts';
import { EXAMPLE, wasWatched } from '../../server/entities/run.ts';
import {
  silencedUntilText,
  stateText,
  suppressionText,
  typeStateText,
  untilText,
} from '../../web/alarms/alarm-text.ts';
import { queryOf } from '../../web/alarms/journal-query.ts';
import { checkTypeDraft, draftOf } from '../../web/alarms/type-draft.ts';
import { JOURNAL_TEXT } from '../../web/format/names.ts';
import { figureRows, figureText } from '../../web/runs/alarm-figure-text.ts';
import { AlarmRecord } from '../../web/runs/alarm-record.tsx';
import { CALM_FIGURES } from '../alarm/calm-figures.ts';
import { seeded } from '../chance.ts';

const T0 = Date.UTC(2026, 1, 3, 22);
const MIN = 60_000;
const DAY = 86_400_000;
type Rest = NonNullable<AlarmView['suppression']>;
const suppression = (over: Partial<Rest> = {}): Rest => ({
  sinceMs: T0,
  untilMs: T0 + 10 * MIN,
  untilRunEnds: false,
  reason: 'the plug is being mended.',
  by: 'Ada',
  from: '192.168.1.20, Android phone',
  occurred: 0,
  ...over,
});
const suppressed = (state: AlarmView['state'], over: Partial<Rest> = {}) =>
  ({ state, suppression: suppression(over) }) as AlarmView;

test('the table of alarm types shows the state of all alarms of a type, and until when they are silenced', () => {
  const none: AlarmView[] = [];
  expect([typeStateText(none), silencedUntilText(none)]).toEqual(['No alarm', '']);
  const zone = (n: number, alarm: AlarmView) => ({ ...alarm, subject: `zone ${n}` });
  const two = [
    zone(1, { state: 'unacknowledged', suppression: null } as AlarmView),
    zone(2, suppressed('shelved')),
    zone(3, suppressed('suppressedByDesign', { untilMs: null, by: null, reason: 'while the line is silent' })),
  ];
  expect(typeStateText(two)).toBe(
    'Not acknowledged (zone 1), Silenced (zone 2), Suppressed by design while the line is silent (zone 3)',
  );
  expect(silencedUntilText(two)).toMatch(/^\d\d:\d\d$/);
});

test('a search of the journal covers whole days of this device, the last one included', () => {
  expect(queryOf({ words: ' Ada ', step: '', fromDay: '', toDay: '' })).toEqual({ search: 'Ada' });
  expect(queryOf({ words: '', step: 'raised', fromDay: '2026-02-28', toDay: '2026-02-28' })).toEqual({
    search: '',
    step: 'raised',
    from: new Date(2026, 1, 28).getTime(),
    to: new Date(2026, 2, 1).getTime(),
  });
});

describe('a suppressed alarm', () => {
  test('shows until when, by whom, why, the time left, and how often it occurred', () => {
    expect(suppressionText(suppressed('shelved', { occurred: 3 }), T0 + 4 * MIN)).toMatch(
      /^Silenced by Ada until \d\d:\d\d \(6 min more\): the plug is being mended\. It has occurred 3 times since then\.$/,
    );
    expect(suppressionText(suppressed('outOfService', { untilMs: null, occurred: 1 }), T0)).toMatch(
      /^Out of service since \d\d:\d\d, taken out by Ada: the plug is being mended\. It has occurred once since then\.$/,
    );
    expect(suppressionText(suppressed('outOfService', { untilMs: null }), T0 + 21 * DAY)).toMatch(
      /^Out of service since (Tue 3|Wed 4) Feb \d\d:\d\d, taken out by Ada/,
    );
    const design = { by: null, from: null, untilMs: null, reason: 'while the line is silent' };
    expect(suppressionText(suppressed('suppressedByDesign', design), T0)).toBe(
      'Suppressed by design while the line is silent.',
    );
  });

  test('names the day if the end is far away', () => {
    expect(untilText(suppression({ untilMs: T0 + 24 * 60 * MIN, untilRunEnds: true }))).toMatch(
      /^until this run ends, or until Wed,? 4 Feb \d\d:\d\d at the latest$/,
    );
  });
});

describe('the draft of an alarm type', () => {
  const garbled = alarmTypeView('lineGarbled', {}, { absoluteLimitC: 300 });
  const check = (type: AlarmTypeView, over: object) => checkTypeDraft(type, { ...draftOf(type), ...over }, 300);

  test('is accepted unchanged', () => {
    expect(check(garbled, {})).toEqual({
      input: {
        priority: 'medium',
        onDelayS: 5,
        offDelayS: 30,
        deadband: 5,
        latching: false,
        consequence: garbled.consequence,
        firstCheck: garbled.firstCheck,
      },
    });
    expect(check(alarmTypeView('blob', {}, { absoluteLimitC: 300 }), {})).not.toHaveProperty('input.deadband');
  });

  test("reports each wrong field with the service's sentence", () => {
    expect(check(garbled, { onDelayS: null, offDelayS: -1, deadband: 11, firstCheck: ' ' })).toEqual({
      faults: {
        onDelayS: expect.stringContaining('is not a number'),
        offDelayS: expect.stringContaining('is -1 s'),
        deadband: expect.stringContaining('would return only at -1'),
        firstCheck: expect.stringContaining('the first check is missing'),
      },
    });
  });
});

describe('the alarm load of a run', () => {
  const calm: AlarmLoadView = CALM_FIGURES;
  const blob = { type: 'blob' as const, title: 'Blob', subject: '', count: 12 };

  test('takes one sentence for a quiet run', () => {
    expect(figureText(calm, 'UTC', true)).toBe('No alarm was raised.');
  });

  test('shows for a loud run how loud, when it was too much, and what to do', () => {
    const loud: AlarmLoadView = {
      ...calm,
      alarms: 20,
      perTenMin: 0.4,
      peakPerTenMin: 12,
      floods: [{ fromMs: T0, toMs: T0 + 18 * MIN, alarms: 14 }],
      floodShare: 0.04,
      byPriority: { high: 15, medium: 4, low: 1 },
      frequent: [blob],
      chattering: [{ ...blob, count: 3 }],
      fleeting: [blob],
      medianAnswerMs: 90_000,
      unanswered: 1,
    };
    expect(figureText(loud, 'UTC', true)).toBe(
      '20 alarms were raised, 0.4 in ten minutes on average. From 22:00 on there were too many for one person: 14 alarms in 18 min. “Blob” came and went repeatedly: try a longer off-delay. “Blob” was gone within seconds, before anyone could act: an on-delay may avoid the alarm. Acknowledging took 1 min 30 s (median); no one acknowledged 1 alarm.',
    );
    const rows = new Map(figureRows(loud).map(([measure, here]) => [measure, here]));
    expect(rows.get('Alarms in ten minutes, most')).toBe('12');
    expect(rows.get('High, medium, low priority')).toMatch(/^75.%, 20.%, 5\.0.%$/);
    expect(rows.get('Most frequent')).toMatch(/^Blob, 60.% of the alarms$/);
    expect(rows.get('Floods')).toMatch(/^1, 4\.0.% of the run$/);
  });

  test('never says of a recorded log or an example that anyone was notified, whatever its alarms', () => {
    const claims = (text: string) =>
      text
        .replaceAll(/No one was notified(, because the line was not watched live| of these)/g, '')
        .match(/.{0,30}\b(called|notified|woken|alerted|acknowledged|acknowledging)\b.{0,30}/gi);
    const random = seeded(3);
    const some = <T>(of: readonly T[]) => of.filter(() => random() < 0.5);
    const steps = Object.keys(JOURNAL_TEXT) as RunDetail['alarms'][number]['step'][];
    for (const sourceTitle of ['recorded log night.log', `${EXAMPLE}A good night`]) {
      const watched = wasWatched({ sourceTitle });
      for (let i = 0; i < 50; i++) {
        const alarms = Math.floor(30 * random());
        const figures: AlarmLoadView = {
          ...calm,
          alarms,
          perTenMin: random() < 0.2 ? null : 5 * random(),
          floods: some([1, 2, 3]).map(() => ({ fromMs: T0, toMs: T0 + 18 * MIN, alarms: 14 })),
          chattering: some([{ ...blob, count: 3 }]),
          fleeting: some([blob]),
          stale: some([{ ...blob, forMs: 25 * 60 * MIN }]),
          medianAnswerMs: null,
          unanswered: alarms,
        };
        const text = figureText(figures, 'UTC', watched);
        expect(claims(text)).toBeNull();
        expect(claims(figureRows(figures).flat().join('. '))).toBeNull();
        const ofLine = some(steps.filter((step) => step !== 'acknowledged'));
        const entries = ofLine.map((step, id) => ({
          step,
          timeMs: T0 + id,
          by: null,
          from: null,
          reason: '',
          alarm: {
            id: id % 4,
            priority: 'high',
            state: 'unacknowledged',
            title: 'Blob',
            sentence: 'A blob of 2.10 mm.',
            raisedMs: T0,
            returnedMs: random() < 0.5 ? null : T0 + MIN,
            acknowledgedMs: null,
            occurrences: 1,
          },
        }));
        const detail = { run: { sourceTitle, timeZone: 'UTC' }, alarms: entries, log: [] } as unknown as RunDetail;
        const page = renderToStaticMarkup(h(AlarmRecord, { detail }));
        expect(claims(page)).toBeNull();
      }
    }
    const loud = { ...calm, alarms: 25, perTenMin: 3.1, unanswered: 25 };
    expect(figureText(loud, 'UTC', false)).toBe(
      '25 alarms were raised, 3.1 in ten minutes on average. No one was notified, because the line was not watched live.',
    );
    expect(wasWatched({ sourceTitle: 'serial port /dev/ttyUSB0' })).toBe(true);
    expect(claims(figureText(loud, 'UTC', true))).not.toBeNull();
  });

  test('counts one alarm, and gives no rate for a short run', () => {
    expect(figureText({ ...calm, alarms: 1, perTenMin: null, unanswered: 1 }, 'UTC', true)).toBe(
      '1 alarm was raised. No one acknowledged.',
    );
  });
});

test('the state of an alarm names who acknowledged it, and not as the one to reset it', () => {
  const text = (state: AlarmView['state'], acknowledgedBy: string | null) => stateText({ state, acknowledgedBy });
  expect(text('unacknowledged', null)).toBe('Not acknowledged');
  expect(text('acknowledged', 'Ada')).toBe('Acknowledged by Ada');
  expect(text('latchedAcknowledged', 'Ada')).toBe('Cleared: reset to close; acknowledged by Ada');
});
