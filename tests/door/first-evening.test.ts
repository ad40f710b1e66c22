/**
 * A maker's first evening: the set-up page is open on a phone or a desktop, and a board with a sketch of its own is plugged
 * in (on a pseudo-terminal). At most 60 s and five taps later a diameter, zones, set-points and a speed are right.
 */
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { PHONE, sharedBrowser, type TestBrowser } from '../browser/browser.ts';
import { OpenedPages } from '../browser/opened-pages.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { newDataFolder, startService, until } from '../service/running-service.ts';
import { PtyBoard } from './pty-board.ts';
import { SKETCHES, type Sketch, truthAt } from './sketches.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 60_000 });

const SECONDS_MAX = 60;
const TAPS_MAX = 5;
/** The sketches that are tried with each change; the others only before a release. */
const ALWAYS = ['prose in inches and Fahrenheit'];

let browser: TestBrowser;
beforeAll(async () => {
  browser = await sharedBrowser();
});
afterAll(() => browser?.close());

const TRIED = SKETCHES.filter(({ name }) => IS_LONG_CHECK || ALWAYS.includes(name));
const DEVICES = IS_LONG_CHECK
  ? ({ phone: PHONE, desktop: { width: 1366, height: 850 } } as const)
  : ({ phone: PHONE } as const);

test.each(
  TRIED.flatMap((sketch) =>
    Object.entries(DEVICES).map(([device, viewport]) => [sketch.name, device, sketch, viewport] as const),
  ),
)('a sketch that prints %s is understood in time on a %s', async (_name, device, sketch, viewport) => {
  const folder = newDataFolder();
  const board = new PtyBoard(folder);
  const service = await startService({ source: board.source, dataFolder: folder, args: ['--log', 'warn'] });
  const opened = new OpenedPages(
    () => browser,
    () => service.address,
  );
  try {
    const { page } = await opened.open('/set-up', { viewport });
    await page.getByText('No line yet').waitFor();
    await board.run(sketch);
    const taps = await setUp(page, sketch);
    const state = await until(
      () => service.get<LiveState>('/api/state'),
      (now) => isRight(now, sketch),
      'all that the sketch sends to be right',
    );
    const seconds = board.ranS;
    if (IS_LONG_CHECK) process.stdout.write(`${sketch.name}, ${device}: ${seconds.toFixed(1)} s, ${taps} taps\n`);
    expect(seconds).toBeLessThan(SECONDS_MAX);
    expect(taps).toBeLessThanOrEqual(TAPS_MAX);
    expect(state.link.phase).toBe('open');
    expect(await opened.close()).toEqual([]);
  } finally {
    await board.unplug();
    await service.remove();
  }
});

/** Accept what is proposed, and give what the sketch does not send. @returns number of taps */
async function setUp(page: Page, sketch: Sketch): Promise<number> {
  let taps = 0;
  const yes = page.getByRole('button', { name: /^Yes, use/ });
  await yes.and(page.locator(':enabled')).click();
  await yes.waitFor({ state: 'detached' });
  taps++;
  // The lines are recognised again, but they do come.
  expect(await page.getByText('No line yet').count()).toBe(0);
  if (sketch.asks.includes('speed')) {
    const question = page.getByTestId('missing-speed');
    await question.getByLabel('Strand speed, mm/s').fill('38.2');
    await question.getByRole('button', { name: 'Save the speed' }).click();
    taps += 2;
  }
  if (sketch.asks.includes('pins')) {
    // The sketch counts from 0.2 mm in steps of 2 µm.
    const gauge = page.locator('[data-signal="adc"]');
    const readings = gauge.getByLabel('Raw reading');
    await readings.nth(0).fill('650');
    await readings.nth(1).fill('900');
    await gauge.getByRole('button', { name: 'Use this calibration' }).click();
    taps += 3;
  }
  return taps;
}

function isRight({ now, zones }: LiveState, { understood }: Sketch): boolean {
  const truth = truthAt(0);
  const near = (value: number | null | undefined, wanted: number, within: number) =>
    value !== null && value !== undefined && Math.abs(value - wanted) <= within;
  const zone = (n: number) => zones.find((one) => one.zone === n);
  return (
    near(now.diameterMm, truth.d, 0.02) &&
    near(now.speedMmPerS, truth.v, 1) &&
    near(zone(1)?.temperatureC, truth.t1, 1) &&
    near(zone(1)?.setpointC, truth.s1, 0.5) &&
    (understood.t2 === undefined || (near(zone(2)?.temperatureC, 198, 1.5) && near(zone(2)?.setpointC, 198, 0.5)))
  );
}
