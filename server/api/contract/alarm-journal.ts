import { type Static, Type } from 'typebox';
import { ALARM_TYPES } from '../../alarm/alarm.ts';
import { JOURNAL_FORMATS } from '../export/export-journal.ts';
import { routes } from './route-table.ts';
import { bytes, given, IdParam, int, list, named, num, numOrNull, oneOf, text, withDefault } from './schema.ts';

const counted = () => list(Type.Object({ type: oneOf(ALARM_TYPES), title: text(), subject: text(), count: int() }));

export const AlarmFiguresView = named(
  'AlarmFigures',
  {
    calls: int({ description: 'Times that someone was to be notified' }),
    perTenMin: numOrNull({ description: 'Mean calls in 10 min; null where the run was shorter' }),
    peakPerTenMin: int({ description: 'Most calls in any 10 min' }),
    floods: list(
      Type.Object({ fromMs: num(), toMs: num(), calls: int() }),
      'More than 10 calls in 10 min, until fewer than 5 come in 10 min',
    ),
    floodShare: num({ description: 'Share of the run, 0 to 1' }),
    byPriority: Type.Object({ high: int(), medium: int(), low: int() }),
    frequent: counted(),
    chattering: counted(),
    fleeting: counted(),
    stale: list(Type.Object({ type: oneOf(ALARM_TYPES), title: text(), subject: text(), forMs: num() })),
    medianAnswerMs: numOrNull({ description: 'Median from a call to its acknowledgement' }),
    unanswered: int({ description: 'Calls that were never acknowledged' }),
  },
  'What the alarms of a run asked of whoever watched it.',
);
export type AlarmFiguresView = Static<typeof AlarmFiguresView>;

const format = () => withDefault(oneOf(JOURNAL_FORMATS), 'json');

/** Every step of every alarm, for other programs, and what the alarms asked of whoever watched. */
export const alarmJournal = routes({
  'GET /api/runs/:id/alarm-journal': {
    operationId: 'downloadRunAlarmJournal',
    tag: 'alarms',
    summary: 'Download the alarm journal of a run',
    description: 'Every step of every alarm of the run as JSON or CSV: what, when, by whom, from where.',
    params: IdParam,
    query: given({ format: format() }),
    answers: { 200: bytes() },
    produces: ['application/json', 'text/csv'],
    ticket: true,
  },
  'GET /api/alarm-journal': {
    operationId: 'downloadAlarmJournal',
    tag: 'alarms',
    summary: 'Download the alarm journal between two times',
    description: 'Every step of every alarm as JSON or CSV, whether in a run or not.',
    query: given({
      from: num({ description: 'UTC ms' }),
      to: num({ description: 'UTC ms, exclusive' }),
      format: format(),
    }),
    answers: { 200: bytes() },
    produces: ['application/json', 'text/csv'],
    ticket: true,
  },
  'GET /api/runs/:id/alarm-figures': {
    operationId: 'getAlarmLoad',
    tag: 'alarms',
    summary: 'The alarm load of a run',
    description: 'Rate, floods, chattering, fleeting and stale alarms, counted as EEMUA 191 does.',
    params: IdParam,
    answers: { 200: AlarmFiguresView },
  },
});
