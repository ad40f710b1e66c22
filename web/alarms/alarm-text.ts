import { awaitsAcknowledgement, isActive } from '../../server/alarm/life-cycle.ts';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { STATE_TEXT } from '../format/names.ts';
import { clock, shortDay, span } from '../format/times.ts';

const DAY_MS = 86_400_000;

/** "Acknowledged by Ada", "Cleared: reset to close; acknowledged by Ada". */
export function stateText({ state, acknowledgedBy }: Pick<AlarmView, 'state' | 'acknowledgedBy'>): string {
  const text = STATE_TEXT[state];
  if (acknowledgedBy === null || awaitsAcknowledgement(state)) return text;
  return isActive(state) ? `${text} by ${acknowledgedBy}` : `${text}; acknowledged by ${acknowledgedBy}`;
}

/** A clock time, with the day if it is more than half a day away. */
function clockOrDay(ms: number, fromMs: number): string {
  return Math.abs(ms - fromMs) > DAY_MS / 2 ? `${shortDay(ms)} ${clock(ms)}` : clock(ms);
}

/** "until 22:41", "until this run ends, or until Thu 3 Feb 09:00 at the latest". */
export function untilText(suppression: AlarmView['suppression']): string {
  if (suppression === null) return '';
  if (suppression.untilMs === null) return 'until someone returns it to service';
  const at = clockOrDay(suppression.untilMs, suppression.sinceMs);
  return suppression.untilRunEnds ? `until this run ends, or until ${at} at the latest` : `until ${at}`;
}

/** Why an alarm is suppressed, by whom, and until when, as one sentence. */
export function suppressionText(alarm: AlarmView, nowMs: number): string {
  const { suppression, state } = alarm;
  if (suppression === null) return '';
  const often =
    suppression.occurred === 0
      ? ''
      : ` It has occurred ${suppression.occurred === 1 ? 'once' : `${suppression.occurred} times`} since then.`;
  if (state === 'suppressedByDesign') return `Suppressed by design ${suppression.reason}.${often}`;
  const by = suppression.by === null ? '' : ` by ${suppression.by}`;
  const why = suppression.reason === '' ? '' : `: ${suppression.reason.replace(/\.+$/, '')}`;
  if (state === 'outOfService')
    return `Out of service since ${clockOrDay(suppression.sinceMs, nowMs)}, taken out${by}${why}.${often}`;
  const left = suppression.untilMs === null ? '' : ` (${span(suppression.untilMs - nowMs)} more)`;
  return `Silenced${by} ${untilText(suppression)}${left}${why}.${often}`;
}

type AlarmOfType = Pick<AlarmView, 'state' | 'subject' | 'suppression'>;

/** The state of all alarms of a type: "Not acknowledged", "Silenced (zone 2), Acknowledged (zone 3)". */
export function typeStateText(alarms: readonly AlarmOfType[]): string {
  if (alarms.length === 0) return 'No alarm';
  return alarms
    .map(({ state, subject, suppression }) => {
      const why = state === 'suppressedByDesign' ? ` ${suppression?.reason}` : '';
      return `${STATE_TEXT[state]}${why}${subject === '' ? '' : ` (${subject})`}`;
    })
    .join(', ');
}

/** When users' suppressions of the alarms of a type end, in a column titled “until”; '' = there are none. */
export function silencedUntilText(alarms: readonly AlarmOfType[]): string {
  const texts = alarms.flatMap(({ state, suppression }) =>
    suppression === null || state === 'suppressedByDesign' ? [] : untilText(suppression).replace(/^until /, ''),
  );
  return [...new Set(texts)].join(', ');
}

/** "0 s", "1 min 15 s". */
export function delayText(seconds: number): string {
  return span(seconds * 1000);
}

const GAP_TEXT: Readonly<Record<LiveState['notWatched'][number], string>> = {
  strand: 'The strand is not watched.',
  places: 'Places on the spool are unknown.',
  heat: 'The heat is not watched.',
  heatInPart: 'The heat is watched only in part.',
  outOfRound: 'Whether the strand is out of round is not watched: that needs a gauge with two axes.',
  coldScrew: 'A screw turning in a cold barrel is not noticed: no screw speed (rpm) arrives.',
};

/**
 * The text of an empty alarm list. It names only what is watched.
 * @param lostForMs for how long the connection has been lost; null = it is not
 */
export function noAlarmText(notWatched: LiveState['notWatched'], lostForMs: number | null = null): string {
  if (lostForMs !== null) return `Not known while the connection is lost. There was none ${span(lostForMs)} ago.`;
  const watched = (['strand', 'heat'] as const).filter((one) => !notWatched.includes(one)).map((one) => `the ${one}`);
  const none = `None. No alarm about ${[...watched, 'the link'].join(', ').replace(/, ([^,]*)$/, ' or $1')}.`;
  return [none, ...notWatched.map((gap) => GAP_TEXT[gap])].join(' ');
}
