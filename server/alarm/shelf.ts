import { Problem } from '../problem/problem.ts';
import type { AlarmType } from './alarm.ts';
import { DANGERS } from './first-out.ts';
import type { Shelf } from './tracked-alarm.ts';

/** How long somebody wants an alarm to rest. */
export interface ShelfWish {
  /** Minutes; null = until the run ends. */
  readonly forMin: number | null;
  /** '' = none given. */
  readonly reason: string;
  /** A run is under way, so that "until it ends" means something. */
  readonly runUnderWay: boolean;
}

/** Nothing is shelved for longer (common practice, no source: a shift or a night, then somebody looks again), min. */
const SHELF_MAX_MIN = 24 * 60;
/** What may burn, min. */
const DANGER_SHELF_MAX_MIN = 10;

/** The longest that an alarm of this type may be shelved, min. */
export function longestShelfMin(type: AlarmType): number {
  return DANGERS.has(type) ? DANGER_SHELF_MAX_MIN : SHELF_MAX_MIN;
}

/** @throws Problem `bad-shelving`, `wrong-state` */
export function checkShelf(type: AlarmType, wish: ShelfWish, nowMs: number): Shelf {
  const { forMin, runUnderWay } = wish;
  const mostMin = longestShelfMin(type);
  const reason = wish.reason.trim();
  if (forMin === null) {
    if (DANGERS.has(type)) throw tooLong(mostMin, 'until the run ends');
    if (!runUnderWay)
      throw new Problem(
        'wrong-state',
        'No run is under way, so none can end.',
        'Say for how many minutes to silence it.',
        { pointer: '/forMin' },
      );
    return { untilMs: nowMs + mostMin * 60_000, untilRunEnds: true, reason };
  }
  if (!Number.isFinite(forMin) || forMin <= 0)
    throw new Problem('bad-shelving', `An alarm cannot rest for ${forMin} min.`, `Give from 1 to ${mostMin} min.`, {
      pointer: '/forMin',
    });
  if (forMin > mostMin) throw tooLong(mostMin, `for ${forMin} min`);
  return { untilMs: nowMs + forMin * 60_000, untilRunEnds: false, reason };
}

function tooLong(mostMin: number, wish: string): Problem {
  return new Problem(
    'bad-shelving',
    `This alarm cannot be shelved ${wish}: at most for ${mostMin} min.`,
    mostMin === DANGER_SHELF_MAX_MIN
      ? 'What may burn must be looked at again soon.'
      : 'Take it out of service, with a reason, if it is to rest for longer.',
    { pointer: '/forMin' },
  );
}
