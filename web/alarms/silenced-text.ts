import type { AlarmView } from '../../server/api/contract/alarms.ts';
import { clock, shortDay, span } from '../format/times.ts';

const DAY_MS = 86_400_000;

/** "until 22:41", "until the run ends, at the latest Thu, 3 Feb 09:00"; a day is named only where it is another one. */
export function untilText(rest: AlarmView['rest']): string {
  if (rest === null) return '';
  if (rest.untilMs === null) return 'until somebody returns it';
  const far = rest.untilMs - rest.sinceMs > DAY_MS / 2;
  const at = far ? `${shortDay(rest.untilMs)} ${clock(rest.untilMs)}` : clock(rest.untilMs);
  return rest.untilRunEnds ? `until this run ends, at the latest ${at}` : `until ${at}`;
}

/** Why it rests, since when, and when it comes back, as one sentence. */
export function restText(alarm: AlarmView, nowMs: number): string {
  const { rest, state } = alarm;
  if (rest === null) return '';
  const often =
    rest.occurred === 0 ? '' : ` It happened ${rest.occurred === 1 ? 'once' : `${rest.occurred} times`} meanwhile.`;
  if (state === 'suppressedByDesign') return `Suppressed by design ${rest.reason}.${often}`;
  const by = rest.by === null ? '' : ` by ${rest.by}`;
  const why = rest.reason === '' ? '' : `: ${rest.reason.replace(/\.+$/, '')}`;
  if (state === 'outOfService') return `Out of service since ${clock(rest.sinceMs)}, taken out${by}${why}.${often}`;
  const left = rest.untilMs === null ? '' : ` (${span(rest.untilMs - nowMs)} more)`;
  return `Shelved${by} ${untilText(rest)}${left}${why}.${often}`;
}

/** "0 s", "1 min 15 s". */
export function delayText(seconds: number): string {
  return span(seconds * 1000);
}
