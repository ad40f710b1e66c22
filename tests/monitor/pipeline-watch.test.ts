import { describe, expect, it } from 'vitest';
import { type PipelineProgress, PipelineWatch } from '../../server/monitor/pipeline-watch.ts';

type AtSecond = (s: number) => PipelineProgress;

/** How long it stands, s, after a check a second from second 0 to `endS`. */
function standsAfter(endS: number, at: AtSecond, isChecked: (s: number) => boolean = () => true): number {
  const watch = new PipelineWatch();
  for (let s = 0; s <= endS; s++) if (isChecked(s)) watch.check(1_000_000 + s * 1000, at(s));
  return watch.standsForMs / 1000;
}

const moves: AtSecond = (s) => ({ arrivedLines: 50 * s, passedLines: 50 * s, secondsDone: s });
const from = (startS: number, stuck: (s: number) => Partial<PipelineProgress>): AtSecond => {
  return (s) => (s < startS ? moves(s) : { ...moves(s), ...stuck(s) });
};

describe('a pipeline', () => {
  it('moves while every line passes, also a line that cannot be read', () => {
    expect(standsAfter(200, moves)).toBe(0);
  });

  it('stands once arriving lines no longer pass', () => {
    const stuck = from(100, () => ({ passedLines: 50 * 99 }));
    expect(standsAfter(109, stuck)).toBe(10);
    expect(standsAfter(159, stuck)).toBe(60);
  });

  it('stands once the work of each second is no longer done', () => {
    expect(
      standsAfter(
        159,
        from(100, () => ({ secondsDone: 99 })),
      ),
    ).toBe(60);
  });

  it('moves if lines pass more slowly than they arrive', () => {
    expect(standsAfter(200, (s) => ({ ...moves(s), passedLines: s }))).toBe(0);
  });

  it('does not stand while no lines come, whatever was left unfinished', () => {
    const cableLost = from(100, () => ({ arrivedLines: 50 * 99, passedLines: 50 * 98, secondsDone: 99 }));
    expect(standsAfter(300, cableLost)).toBe(0);
  });

  it('starts over with a new source, whose lines are counted from 0', () => {
    const stuckUntil150 = from(100, (s) =>
      s < 150 ? { passedLines: 0 } : { arrivedLines: s - 149, passedLines: s - 149 },
    );
    expect(standsAfter(149, stuckUntil150)).toBeGreaterThan(40);
    expect(standsAfter(150, stuckUntil150)).toBe(0);
  });

  it('does not stand because the process was suspended', () => {
    const awake = (s: number) => s < 100 || s >= 4000;
    // The first check afterwards may come before the first line and the first work.
    const unfinished = from(100, () => ({ arrivedLines: 50 * 99 + 1, passedLines: 50 * 99, secondsDone: 99 }));
    expect(standsAfter(4000, unfinished, awake)).toBe(0);
  });
});
