import { describe, expect, it } from 'vitest';
import { nextStatedStop, nextWallClock, type StatedStop } from '../../server/monitor/line/passing-time.ts';

describe('a stop stated by a user', () => {
  const resting = { stoppedByUser: true, atRest: true, quietForS: 0 };
  const follow = (stop: StatedStop, atMs: readonly number[], signs = resting) =>
    atMs.reduce((before, nowMs) => nextStatedStop(before, { ...signs, nowMs }), stop);

  it('expires when the line has been at rest for a minute', () => {
    expect(follow({ is: 'absent' }, [5000])).toEqual({ is: 'resting', sinceMs: 5000 });
    expect(follow({ is: 'absent' }, [5000, 64_999])).toEqual({ is: 'resting', sinceMs: 5000 });
    expect(follow({ is: 'absent' }, [5000, 65_000])).toEqual({ is: 'over' });
  });

  it('stays in force while something moves or is heated, then counts the time at rest from zero', () => {
    const moves = { ...resting, atRest: false };
    const stop = follow(follow({ is: 'absent' }, [0, 59_000]), [59_500], moves);
    expect(stop).toEqual({ is: 'inForce' });
    expect(follow(stop, [60_000, 119_000])).toEqual({ is: 'resting', sinceMs: 60_000 });
  });

  it('treats a line that has sent nothing for more than a minute as at rest', () => {
    const silent = (quietForS: number) => ({ ...resting, atRest: false, quietForS });
    expect(follow({ is: 'inForce' }, [0], silent(60))).toEqual({ is: 'inForce' });
    expect(follow({ is: 'inForce' }, [0], silent(60.1))).toEqual({ is: 'resting', sinceMs: 0 });
  });

  it('is absent when the stage is automatic', () => {
    const automatic = { ...resting, stoppedByUser: false };
    expect(follow({ is: 'resting', sinceMs: 0 }, [90_000], automatic)).toEqual({ is: 'absent' });
  });
});

describe('the wall clock', () => {
  it('is followed outside runs', () => {
    expect(nextWallClock({ is: 'inStep' }, -3600_000, false)).toEqual({ is: 'followed', stepMs: -3600_000 });
  });

  it('is not followed during a run, and each step is reported once', () => {
    const stepped = nextWallClock({ is: 'inStep' }, 5000, true);
    expect(stepped).toEqual({ is: 'steppedInRun', stepMs: 5000 });
    expect(nextWallClock(stepped, 6900, true)).toBe(stepped);
    expect(nextWallClock(stepped, 7100, true)).toEqual({ is: 'steppedInRun', stepMs: 7100 });
    expect(nextWallClock(stepped, 5000, false)).toEqual({ is: 'followed', stepMs: 5000 });
  });

  it('is in step if it is off by less than two seconds', () => {
    for (const stepMs of [-1999, 0, 1999])
      expect(nextWallClock({ is: 'inStep' }, stepMs, false)).toEqual({ is: 'inStep' });
  });

  it('is in step after being set back during a run, and a later step is reported again', () => {
    const back = nextWallClock({ is: 'steppedInRun', stepMs: 5000 }, 100, true);
    expect(back).toEqual({ is: 'inStep' });
    expect(nextWallClock(back, 5000, true)).toEqual({ is: 'steppedInRun', stepMs: 5000 });
  });
});
