import type { Alarm, AlarmType } from '../../server/alarm/alarm.ts';
import { CATALOGUE } from '../../server/alarm/catalogue.ts';
import type { StateOfLine } from '../../server/alarm/headline.ts';

/** A line that winds good strand. */
export const WELL: StateOfLine = {
  stage: 'winding',
  missing: [],
  alarms: [],
  spoolOrdinal: 1,
  woundMm: 41_200,
  link: { phase: 'open', text: 'Reading.', silentForS: 0.02, live: true },
};

/** An alarm that no one has acknowledged. */
export const alarm = (type: AlarmType, over: Partial<Alarm> = {}): Alarm => ({
  id: 1,
  type,
  subject: '',
  priority: CATALOGUE[type].priority,
  state: 'unacknowledged',
  sentence: `Something about ${type}.`,
  consequence: '',
  firstCheck: '',
  caution: '',
  occurrences: 1,
  raisedMs: 0,
  lastOccurredMs: 0,
  returnedMs: null,
  ceasedMs: null,
  acknowledgedMs: null,
  acknowledgedBy: null,
  suppression: null,
  facts: {},
  ...over,
});
