/// <reference lib="dom" />
// Parts of this file run in the page.
import type { Page } from 'playwright-core';
import type { BenchRow } from './report.ts';

export const FRAMES_WATCHED_S = 10;
/** A display draws 60 frames/s; a few are late on any machine that does something else as well. */
const FRAMES_PER_S_MIN = 58;
const RATE_TARGET = `60 (≥ ${FRAMES_PER_S_MIN})`;

interface Frames {
  readonly perS: number;
  readonly p99Ms: number;
  /** Processor time of the page's main thread a frame: what remains when other programs take their share. */
  readonly mainMs: number;
}

export function frameRows(what: string, { perS, p99Ms, mainMs }: Frames): BenchRow[] {
  return [
    { what, value: perS, unit: 'frames/s', target: RATE_TARGET, met: perS >= FRAMES_PER_S_MIN },
    { what: '  the longest of a hundred frames (p99)', value: p99Ms, unit: 'ms' },
    { what: "  processor time of the page's main thread a frame", value: mainMs, unit: 'ms' },
  ];
}

/** How evenly the page is drawn while something is done. */
export async function frames(page: Page, act: () => Promise<void>): Promise<Frames> {
  const devtools = await page.context().newCDPSession(page);
  await devtools.send('Performance.enable', { timeDomain: 'threadTicks' });
  const busyS = async () => {
    const { metrics } = await devtools.send('Performance.getMetrics');
    return metrics.find(({ name }) => name === 'TaskDuration')?.value ?? Number.NaN;
  };
  const before = await busyS();
  const counted = page.evaluate(
    (forMs) =>
      new Promise<number[]>((resolve) => {
        const steps: number[] = [];
        let last = performance.now();
        const endMs = last + forMs;
        const step = () => {
          const now = performance.now();
          steps.push(now - last);
          last = now;
          if (now < endMs) requestAnimationFrame(step);
          else resolve(steps);
        };
        requestAnimationFrame(step);
      }),
    FRAMES_WATCHED_S * 1000,
  );
  await act();
  const steps = (await counted).sort((a, b) => a - b);
  const mainMs = (1000 * ((await busyS()) - before)) / steps.length;
  await devtools.detach();
  const total = steps.reduce((sum, step) => sum + step, 0);
  return { perS: (1000 * steps.length) / total, p99Ms: steps[Math.floor(steps.length * 0.99)] ?? Number.NaN, mainMs };
}
