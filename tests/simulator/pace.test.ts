import { describe, expect, it, vi } from 'vitest';
import { createSimulation } from '../../simulator/index.ts';
import { createPacedRun } from '../../simulator/pace.ts';

/** Run to the end of the duration. @returns all its text */
function runThrough(options: { pace: number | 'max'; durationS: number; scenario?: string }): Promise<string> {
  const simulation = createSimulation({ scenario: options.scenario ?? 'steady' });
  let text = '';
  return new Promise((resolve, reject) => {
    createPacedRun({
      simulation,
      pace: options.pace,
      durationS: options.durationS,
      onChunk: (chunk) => {
        text += chunk;
      },
      onEnd: (failure) => (failure === undefined ? resolve(text) : reject(failure)),
    }).start();
  });
}

describe('a paced run', () => {
  it('sends exactly the bytes of the simulation at any pace', async () => {
    const expected = createSimulation({ scenario: 'steady' }).advanceTo(12);
    expect(await runThrough({ pace: 'max', durationS: 12 })).toBe(expected);
    expect(await runThrough({ pace: 30, durationS: 12 })).toBe(expected);
  });

  it('keeps its pace', async () => {
    const startMs = performance.now();
    await runThrough({ pace: 4, durationS: 4 });
    const tookS = (performance.now() - startMs) / 1000;
    expect(tookS).toBeGreaterThan(0.95);
    // At a pace of 1 it would be 4 s; a busy machine may need longer than 1 s.
    expect(tookS).toBeLessThan(3);
  });

  it('waits for a slow reader', async () => {
    let open = 0;
    let most = 0;
    let chunks = 0;
    await new Promise<void>((resolve) => {
      const run = createPacedRun({
        simulation: createSimulation({ scenario: 'steady' }),
        pace: 'max',
        onChunk: async () => {
          most = Math.max(most, ++open);
          await new Promise((done) => setTimeout(done, 5));
          open--;
          if (++chunks === 5) void run.stop().then(resolve);
        },
      });
      run.start();
    });
    expect(most).toBe(1);
    expect(chunks).toBe(5);
  });

  it('sends no chunk after a stop, and does not report an end', async () => {
    let chunks = 0;
    let ended = false;
    const run = createPacedRun({
      simulation: createSimulation({ scenario: 'steady' }),
      pace: 1,
      onChunk: () => void chunks++,
      onEnd: () => {
        ended = true;
      },
    });
    run.start();
    await expect.poll(() => chunks, { timeout: 10_000 }).toBeGreaterThan(1);
    await run.stop();
    await run.stop();
    const atStop = chunks;
    await new Promise((resolve) => setTimeout(resolve, 80));
    expect(chunks).toBe(atStop);
    expect(ended).toBe(false);
  });

  it.each([
    ['sends what was due after a minute in which its process was stopped', 60, 60],
    ['goes on from where it was after an hour', 3600, 0],
  ])('%s', async (_what, stoppedS, sentS) => {
    const now = performance.now.bind(performance);
    let aheadMs = 0;
    vi.spyOn(performance, 'now').mockImplementation(() => now() + aheadMs);
    const simulation = createSimulation({ scenario: 'steady' });
    let chunks = 0;
    const run = createPacedRun({ simulation, pace: 1, onChunk: () => void chunks++ });
    try {
      run.start();
      await expect.poll(() => chunks).toBeGreaterThan(1);
      aheadMs = stoppedS * 1000;
      const [beforeS, beforeMs, chunksBefore] = [simulation.timeS, now(), chunks];
      await expect.poll(() => simulation.timeS - beforeS).toBeGreaterThan(sentS);
      await expect.poll(() => chunks - chunksBefore).toBeGreaterThan(0);
      const passedS = (now() - beforeMs) / 1000;
      // No further than real time since, and a line or two.
      expect(simulation.timeS - beforeS).toBeLessThan(sentS + passedS + 0.2);
    } finally {
      await run.stop();
      vi.restoreAllMocks();
    }
  });

  it('reports the error of its reader', async () => {
    const failure = await new Promise((resolve) => {
      createPacedRun({
        simulation: createSimulation({ scenario: 'steady' }),
        pace: 'max',
        onChunk: () => Promise.reject(new Error('reader full')),
        onEnd: resolve,
      }).start();
    });
    expect(failure).toEqual(new Error('reader full'));
  });
});
