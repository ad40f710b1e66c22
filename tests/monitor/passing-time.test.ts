import { describe, expect, it } from 'vitest';
import { nextStatedStop, nextWallClock, type StatedStop } from '../../server/monitor/line/passing-time.ts';

describe('the word of a person that the line is stopped', () => {
  const resting = { stoppedByPerson: true, atRest: true, quietForS: 0 };
  const follow = (word: StatedStop, atMs: readonly number[], signs = resting) =>
    atMs.reduce((before, nowMs) => nextStatedStop(before, { ...signs, nowMs }), word);

  it('is over once the line has been at rest for a minute', () => {
    expect(follow({ is: 'absent' }, [5000])).toEqual({ is: 'resting', sinceMs: 5000 });
    expect(follow({ is: 'absent' }, [5000, 64_999])).toEqual({ is: 'resting', sinceMs: 5000 });
    expect(follow({ is: 'absent' }, [5000, 65_000])).toEqual({ is: 'over' });
  });

  it('stays in force while something moves or is heated, and the rest is counted from the start again', () => {
    const moves = { ...resting, atRest: false };
    const word = follow(follow({ is: 'absent' }, [0, 59_000]), [59_500], moves);
    expect(word).toEqual({ is: 'inForce' });
    expect(follow(word, [60_000, 119_000])).toEqual({ is: 'resting', sinceMs: 60_000 });
  });

  it('counts a line that sends nothing for more than a minute as one at rest', () => {
    const silent = (quietForS: number) => ({ ...resting, atRest: false, quietForS });
    expect(follow({ is: 'inForce' }, [0], silent(60))).toEqual({ is: 'inForce' });
    expect(follow({ is: 'inForce' }, [0], silent(60.1))).toEqual({ is: 'resting', sinceMs: 0 });
  });

  it('is absent where the line tells its own stage', () => {
    const free = { ...resting, stoppedByPerson: false };
    expect(follow({ is: 'resting', sinceMs: 0 }, [90_000], free)).toEqual({ is: 'absent' });
  });
});

describe('the wall clock', () => {
  it('is followed where no run is under way', () => {
    expect(nextWallClock({ is: 'inStep' }, -3600_000, false)).toEqual({ is: 'followed', stepMs: -3600_000 });
  });

  it('is not followed during a run, and each step of it counts once', () => {
    const stepped = nextWallClock({ is: 'inStep' }, 5000, true);
    expect(stepped).toEqual({ is: 'steppedInRun', stepMs: 5000 });
    expect(nextWallClock(stepped, 6900, true)).toBe(stepped);
    expect(nextWallClock(stepped, 7100, true)).toEqual({ is: 'steppedInRun', stepMs: 7100 });
    expect(nextWallClock(stepped, 5000, false)).toEqual({ is: 'followed', stepMs: 5000 });
  });

  it('that drifts by less than two seconds is in step', () => {
    for (const stepMs of [-1999, 0, 1999])
      expect(nextWallClock({ is: 'inStep' }, stepMs, false)).toEqual({ is: 'inStep' });
  });

  it('that was set back during the run is in step again, and a later step counts anew', () => {
    const back = nextWallClock({ is: 'steppedInRun', stepMs: 5000 }, 100, true);
    expect(back).toEqual({ is: 'inStep' });
    expect(nextWallClock(back, 5000, true)).toEqual({ is: 'steppedInRun', stepMs: 5000 });
  });
});
