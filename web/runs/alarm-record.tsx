import { alertsPeople } from '../../server/alarm/life-cycle.ts';
import type { RunDetail } from '../../server/api/contract/runs-and-spools.ts';
import { wasWatched } from '../../server/entities/run.ts';
import { JOURNAL_TEXT, PRIORITY_TEXT, STATE_TEXT } from '../format/names.ts';
import { count, counted } from '../format/numbers.ts';
import { clockWithSeconds, span } from '../format/times.ts';
import { Fold } from '../shell/fold.tsx';
import { PRIORITY_SHAPE, Shape } from '../shell/shape.tsx';

/** Alarms that two sheets of paper have room for, besides charts and the cut list. */
const ON_PAPER = 4;
const LINES_AROUND = 4;
const LINES_OF_ALARM = 3;

/** Lines of a table that the alarms take on paper. */
export function linesOfAlarms({ alarms }: Pick<RunDetail, 'alarms'>): number {
  const raised = new Set(alarms.filter(alertsPeople).map(({ alarm }) => alarm.id)).size;
  return LINES_AROUND + LINES_OF_ALARM * Math.min(ON_PAPER, raised);
}

/** The alarms of the run and who answered them, then the whole log in order. */
export function AlarmRecord({ detail }: { detail: RunDetail }) {
  const zone = detail.run.timeZone;
  const watched = wasWatched(detail.run);
  const called = new Set(detail.alarms.filter(alertsPeople).map(({ alarm }) => alarm.id));
  const last = [...new Map(detail.alarms.map((entry) => [entry.alarm.id, entry.alarm])).values()];
  const alarms = last.filter(({ id }) => called.has(id)).sort((a, b) => a.raisedMs - b.raisedMs);
  const quiet = last.filter(({ id }) => !called.has(id));
  return (
    <>
      <Fold
        title={`${watched ? 'Alarms raised, and who answered' : 'Alarms raised'}: ${alarms.length === 0 ? 'none' : count(alarms.length)}`}
        testId="alarms-raised"
      >
        {!watched && alarms.length > 0 && (
          <p class="fine">No one was notified, because the line was not watched live.</p>
        )}
        {alarms.length > 0 && (
          <ul class="alarm-record">
            {alarms.map((alarm, i) => (
              <li key={alarm.id} class={i < ON_PAPER ? undefined : 'no-print'}>
                <Shape of={PRIORITY_SHAPE[alarm.priority]} size={18} />
                <time>{clockWithSeconds(alarm.raisedMs, zone)}</time>
                <p>
                  {alarm.sentence}{' '}
                  <span class="fine">
                    {PRIORITY_TEXT[alarm.priority]}.{' '}
                    {alarm.acknowledgedMs === null
                      ? watched
                        ? `${STATE_TEXT[alarm.state]}.`
                        : ''
                      : `Acknowledged${alarm.acknowledgedBy ? ` by ${alarm.acknowledgedBy}` : ''} after ${span(alarm.acknowledgedMs - alarm.raisedMs)}.`}
                    {alarm.returnedMs !== null && ` Cleared after ${span(alarm.returnedMs - alarm.raisedMs)}.`}
                  </span>
                </p>
              </li>
            ))}
          </ul>
        )}
        {alarms.length > ON_PAPER && (
          <p class="fine only-print">And {alarms.length - ON_PAPER} more: see the page of the run.</p>
        )}
        {quiet.length > 0 && (
          <p class="fine no-print">
            No one was notified of these, which were silenced, suppressed by design or out of service:{' '}
            {quiet
              .map(({ title, occurrences }) =>
                occurrences === 0 ? title : `${title} (${counted(occurrences, 'time')})`,
              )
              .join(', ')}
            .
          </p>
        )}
      </Fold>
      <Fold offPaper title={`The log: ${counted(detail.log.length + detail.alarms.length, 'entry', 'entries')}`}>
        <ol class="log-list">
          {logLines(detail).map((line) => (
            <li key={line.key}>
              <time>{clockWithSeconds(line.timeMs, zone)}</time> <span class="who">{line.who}</span>{' '}
              <span>{line.what}</span>
            </li>
          ))}
        </ol>
      </Fold>
    </>
  );
}

/** The operators' log and the steps of the alarms merged in order of time. */
function logLines(detail: Pick<RunDetail, 'alarms' | 'log'>) {
  const steps = detail.alarms.map((entry, i) => ({
    key: `a${i}`,
    timeMs: entry.timeMs,
    who: entry.by === null ? 'line' : entry.from === null ? entry.by : `${entry.by} (${entry.from})`,
    what: `${entry.alarm.title}: ${JOURNAL_TEXT[entry.step]}${entry.reason === '' ? '' : `, ${entry.reason.replace(/\.+$/, '')}`}.`,
  }));
  const deeds = detail.log.map((entry, i) => ({
    key: `l${i}`,
    timeMs: entry.timeMs,
    who: entry.who,
    what: entry.what,
  }));
  return [...steps, ...deeds].sort((a, b) => a.timeMs - b.timeMs);
}
