import { type Static, Type } from 'typebox';
import { ALARM_STEPS, ALARM_TYPES, PRIORITIES } from '../../alarm/alarm.ts';
import { JOURNAL_FORMATS } from '../export/export-journal.ts';
import { routes } from './route-table.ts';
import {
  bytes,
  component,
  IdParam,
  input,
  int,
  list,
  num,
  numOrNull,
  oneOf,
  orNull,
  text,
  withDefault,
} from './schema.ts';

const counted = (description: string) =>
  list(Type.Object({ type: oneOf(ALARM_TYPES), title: text(), subject: text(), count: int() }), description);

export const AlarmLoadView = component(
  'AlarmLoad',
  {
    alarms: int({
      description: 'Alarms raised, without those that were silenced, suppressed by design or out of service',
    }),
    perTenMin: numOrNull({ description: 'Mean number of alarms in 10 min; null = the run was shorter than that' }),
    peakPerTenMin: int({ description: 'Most alarms in any 10 min' }),
    floods: list(
      Type.Object({ fromMs: num(), toMs: num(), alarms: int() }),
      'Periods with more than 10 alarms in 10 min, until there are fewer than 5 in 10 min',
    ),
    floodShare: num({ description: 'Share of the run that was an alarm flood, 0 to 1' }),
    byPriority: Type.Object({ high: int(), medium: int(), low: int() }),
    frequent: counted('The most frequent alarms'),
    chattering: counted('Alarms that returned at least three times within a minute; count = most in one minute'),
    fleeting: counted('Alarms that returned within 5 s without any action'),
    stale: list(
      Type.Object({ type: oneOf(ALARM_TYPES), title: text(), subject: text(), forMs: num() }),
      'Alarms that were active for more than a day, or still are',
    ),
    medianAnswerMs: numOrNull({
      description: 'Median time from when an alarm was first raised to its acknowledgement',
    }),
    unanswered: int({ description: 'Alarms that were never acknowledged' }),
  },
  'How much attention the alarms of a run demanded.',
);
export type AlarmLoadView = Static<typeof AlarmLoadView>;

export const JournalEntryView = component('JournalEntry', {
  id: int(),
  timeMs: num(),
  step: oneOf(ALARM_STEPS),
  type: oneOf(ALARM_TYPES),
  title: text({ description: 'Short title of the alarm, such as “Zone 2: not warming up as it should”' }),
  priority: oneOf(PRIORITIES),
  sentence: text({ description: 'The alarm as it was then' }),
  by: orNull(text(), 'Who did it; null = automatic'),
  from: orNull(text(), 'Address and kind of their device'),
  reason: text(),
  runId: orNull(int(), 'null = outside runs'),
});
export type JournalEntryView = Static<typeof JournalEntryView>;

export const JournalPageView = component(
  'JournalPage',
  {
    entries: list(JournalEntryView, 'The newest first'),
    next: orNull(
      Type.Object({ to: num(), toId: num() }),
      'Where to continue; null = there are no older entries. A page can be empty and still have a next one',
    ),
  },
  'Entries of the alarm journal that match a search.',
);
export type JournalPageView = Static<typeof JournalPageView>;

const format = () => withDefault(oneOf(JOURNAL_FORMATS), 'json');

/** The alarm journal as a file for other programs, and the alarm load of a run. */
export const alarmJournal = routes({
  'GET /api/runs/:id/alarm-journal': {
    operationId: 'downloadRunAlarmJournal',
    tag: 'alarms',
    right: 'watch',
    summary: 'Download the alarm journal of a run',
    description: 'Every step of every alarm of the run as JSON or CSV: what happened, when, by whom and from where.',
    params: IdParam,
    query: input({ format: format() }),
    answers: { 200: bytes() },
    produces: ['application/json', 'text/csv'],
  },
  'GET /api/alarm-journal': {
    operationId: 'downloadAlarmJournal',
    tag: 'alarms',
    right: 'watch',
    summary: 'Download the alarm journal between two times',
    description: 'Every step of every alarm as JSON or CSV, including those outside a run.',
    query: input({
      from: num({ description: 'UTC ms' }),
      to: num({ description: 'UTC ms, exclusive' }),
      format: format(),
    }),
    answers: { 200: bytes() },
    produces: ['application/json', 'text/csv'],
  },
  'GET /api/alarm-journal/entries': {
    operationId: 'searchAlarmJournal',
    tag: 'alarms',
    right: 'watch',
    summary: 'Search the alarm journal, the newest entries first',
    description:
      'One page of it. A request looks through a limited number of entries, so a page may have fewer entries than requested, or none, although there are older ones.',
    query: input({
      search: withDefault(
        text({
          maxLength: 100,
          description: 'Words that must all occur in the title, the sentence, the author, their device or the reason',
        }),
        '',
      ),
      step: Type.Optional(oneOf(ALARM_STEPS)),
      from: withDefault(num({ description: 'UTC ms' }), 0),
      to: withDefault(num({ description: 'UTC ms, exclusive' }), 9e15),
      toId: Type.Optional(
        num({ description: 'If given, entries at exactly “to” are included if their id is smaller' }),
      ),
      limit: withDefault(int({ minimum: 1, maximum: 100 }), 50),
    }),
    answers: { 200: JournalPageView },
  },
  'GET /api/runs/:id/alarm-load': {
    operationId: 'getAlarmLoad',
    tag: 'alarms',
    right: 'watch',
    summary: 'Get the alarm load of a run',
    description: 'Alarm rate, floods, and chattering, fleeting and stale alarms, counted as in EEMUA 191.',
    params: IdParam,
    answers: { 200: AlarmLoadView },
  },
});
