/**
 * A maker's first evening: the set-up page is open on a phone or a desktop, and a board with a sketch of its own is plugged
 * in (on a pseudo-terminal). At most 60 s and five taps later a diameter, zones, set-points and a speed are right. Then the
 * turns that a maker takes wrong.
 */
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { SerialPort } from 'serialport';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { PHONE, sharedBrowser, type TestBrowser } from '../browser/browser.ts';
import { OpenedPages } from '../browser/opened-pages.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { type Board, bytesOf, momentAt } from './boards.ts';
import { MORE_BOARDS } from './more-boards.ts';
import { canPlugIn, newPort, PtyBoard } from './pty-board.ts';
import { SKETCHES, type Sketch, truthAt } from './sketches.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 60_000 });

const SECONDS_MAX = 60;
const TAPS_MAX = 5;
/** The port is chosen on the page, too; without the rights to plug a board in, it is given at the start. */
const IS_PORT_CHOSEN = canPlugIn();

let browser: TestBrowser;
beforeAll(async () => {
  browser = await sharedBrowser();
});
afterAll(() => browser?.close());

/** A board, and what must be right in the end. */
interface Evening extends Pick<Sketch, 'name' | 'linesPerS' | 'print' | 'asks'> {
  readonly isResetByOpening: boolean;
  readonly speedMmPerS: number;
  readonly zones: readonly { readonly temperatureC: number; readonly setpointC: number }[];
}

function eveningOf(sketch: Sketch): Evening {
  const { v, t1, s1 } = truthAt(0);
  const second = sketch.understood.t2 === undefined ? [] : [{ temperatureC: 198, setpointC: 198 }];
  return {
    ...sketch,
    isResetByOpening: false,
    speedMmPerS: v,
    zones: [{ temperatureC: t1, setpointC: s1 }, ...second],
  };
}

function eveningWith(board: Board): Evening {
  const roles = board.roles.split(' ');
  const zones = [1, 2, 3].filter((zone) => roles.includes(`t${zone}`));
  const asks: Evening['asks'][number][] = [];
  if (!roles.includes('v') && !roles.includes('len')) asks.push('speed');
  if (zones.some((zone) => !roles.includes(`s${zone}`))) asks.push('setpoints');
  return {
    name: board.name,
    linesPerS: board.linesPerS,
    isResetByOpening: board.isResetByOpening === true,
    print: (s, i) => bytesOf(board, i, momentAt(s)),
    asks,
    speedMmPerS: momentAt(0).v,
    zones: zones.map((zone) => ({ temperatureC: SETPOINTS_C[zone - 1] ?? 0, setpointC: SETPOINTS_C[zone - 1] ?? 0 })),
  };
}

const SETPOINTS_C = momentAt(0).set;
const TRIED = [...SKETCHES.map(eveningOf), ...MORE_BOARDS.map(eveningWith)];
const DEVICES = { phone: PHONE, desktop: { width: 1366, height: 850 } } as const;

test.each(
  TRIED.flatMap((sketch) =>
    Object.entries(DEVICES).map(([device, viewport]) => [sketch.name, device, sketch, viewport] as const),
  ),
)('a sketch that prints %s is understood in time on a %s', async (_name, device, sketch, viewport) => {
  const folder = newDataFolder();
  const { title, link } = IS_PORT_CHOSEN ? newPort('Bench Board') : { title: '', link: join(folder, 'board') };
  const board = new PtyBoard(link);
  const service = await startService({
    ...(IS_PORT_CHOSEN ? {} : { source: board.source }),
    dataFolder: folder,
    args: ['--log', 'warn'],
  });
  const opened = new OpenedPages(
    () => browser,
    () => service.address,
  );
  try {
    const { page } = await opened.open('/set-up', { viewport });
    await page.getByRole('heading', { name: 'What your line sends' }).waitFor();
    await board.run(sketch);
    let taps = 0;
    if (IS_PORT_CHOSEN) {
      await page.getByRole('button', { name: `Use ${title}` }).click();
      taps++;
    }
    if (sketch.isResetByOpening) {
      await until(
        () => service.get<LiveState>('/api/state'),
        ({ link }) => link.received > 0,
        'the port to be open',
      );
      await board.run(sketch);
    }
    taps += await setUp(page, sketch);
    const state = await until(
      () => service.get<LiveState>('/api/state'),
      (now) => isRight(now, sketch),
      'all that the sketch sends to be right',
    );
    const seconds = board.ranS;
    process.stdout.write(`${sketch.name}, ${device}: ${seconds.toFixed(1)} s, ${taps} taps\n`);
    expect(seconds).toBeLessThan(SECONDS_MAX);
    expect(taps).toBeLessThanOrEqual(TAPS_MAX);
    expect(state.link.phase).toBe('open');
    expect(await opened.close()).toEqual([]);
  } finally {
    await board.unplug();
    await service.remove();
  }
});

describe.skipIf(!IS_PORT_CHOSEN).each(Object.entries(DEVICES))('a wrong turn on a %s', (_device, viewport) => {
  const ports = { board: newPort('Bench Board'), other: newPort('Label Scale'), again: newPort('Bench Board') };
  const own = eveningOf(SKETCHES[0] as Sketch);
  let service: RunningService;
  let page: Page;
  const boards: PtyBoard[] = [];
  const plugIn = async ({ link }: { link: string }, sketch: Evening | null) => {
    const board = new PtyBoard(link);
    boards.push(board);
    await (sketch === null ? board.plugIn() : board.run(sketch));
    return board;
  };
  const use = ({ title }: { title: string }, instead = false) =>
    page.getByRole('button', { name: instead ? `Use ${title} instead` : `Use ${title}`, exact: true });
  const yes = () => page.getByRole('button', { name: /^Yes, use/ });
  const state = () => service.get<LiveState>('/api/state');
  const roles = async () => (await service.get<{ settings: { roles: object[] } }>('/api/settings')).settings.roles;
  const opened = new OpenedPages(
    () => browser,
    () => service.address,
  );

  beforeAll(async () => {
    service = await startService({ args: ['--log', 'warn'] });
    ({ page } = await opened.open('/set-up', { viewport }));
  });
  afterAll(async () => {
    const complaints = await opened.close();
    await service.remove();
    for (const board of boards) await board.unplug();
    expect(complaints).toEqual([]);
  });

  test('a port is chosen that another program holds: it is said, and read once that has closed it', async () => {
    await plugIn(ports.board, own);
    const { link } = ports.board;
    const monitor = new SerialPort({ path: link, baudRate: 115_200, autoOpen: false });
    await new Promise<void>((resolve, reject) => monitor.open((error) => (error ? reject(error) : resolve())));
    await use(ports.board).click();
    await page.getByText('it is in use by another program; close that (a serial monitor?)').first().waitFor();
    await new Promise<void>((resolve) => monitor.close(() => resolve()));
    await yes().waitFor();
  });

  test('the wrong port is chosen: the page says that nothing comes, and offers the other with one tap', async () => {
    await plugIn(ports.other, null);
    await use(ports.other).click();
    await page.getByText('No line yet.').waitFor();
    await page.getByText('Did you choose the port of this board?').waitFor();
    const { page: elsewhere } = await opened.open('/set-up');
    await elsewhere.locator('li', { hasText: ports.other.title }).getByText('In use here').waitFor();
    await use(ports.board, true).click();
    await yes().and(page.locator(':enabled')).waitFor();
    expect(await page.getByText('Also plugged in').count()).toBe(0);
    await elsewhere.locator('li', { hasText: ports.board.title }).getByText('In use here').waitFor();
    await elsewhere.close();
  });

  test('a wrong unit: an impossible one cannot be saved, another is marked, and changed afterwards in place', async () => {
    await page.getByLabel('Unit of D').selectOption('inch');
    await page.getByText(/“D” would be 44\.\d+ mm\. Choose another unit, or another meaning\./).waitFor();
    expect(await yes().isDisabled()).toBe(true);
    await page.getByLabel('Unit of D').selectOption('mm');
    await page.getByLabel('Unit of TempA').selectOption('°F');
    await page.getByText('the others are in °C: check the unit').waitFor();
    await yes().and(page.locator(':enabled')).click();
    await until(state, ({ zones }) => Math.abs((zones[0]?.temperatureC ?? 0) - 85) < 2, 'the wrong temperature');
    await page.getByLabel('Unit of TempA').selectOption('°C');
    await page.getByRole('button', { name: 'Save 1 change' }).click();
    await until(state, ({ zones }) => Math.abs((zones[0]?.temperatureC ?? 0) - 185) < 2, 'the right temperature');
    expect(await page.getByText('check the unit').count()).toBe(0);
  });

  test('the board comes back under another name: the page says so, and reads it with one tap and the same mapping', async () => {
    const saved = await roles();
    await boards[0]?.unplug();
    await page.getByText('The lines have stopped.').waitFor();
    await page.getByText('is the cable plugged in?').first().waitFor();
    await plugIn(ports.again, own);
    await use(ports.again, true).click();
    const { link } = ports.again;
    await until(
      state,
      (now) => now.link.phase === 'open' && now.link.sourceTitle.includes(link) && isRight(now, own),
      'the line to be read again',
    );
    await page.getByText('The lines have stopped.').waitFor({ state: 'detached' });
    expect(await roles()).toEqual(saved);
    expect(await yes().count()).toBe(0);
  });
});

/** Give what the sketch does not send, and accept that with what is proposed. @returns number of taps, one for each field */
async function setUp(page: Page, { asks, speedMmPerS, zones }: Evening): Promise<number> {
  let taps = 0;
  const yes = page.getByRole('button', { name: /^Yes, use/ });
  await yes.and(page.locator(':enabled')).waitFor();
  if (asks.includes('speed')) {
    await page.getByTestId('missing-speed').getByLabel('Strand speed, mm/s').fill(speedMmPerS.toFixed(1));
    taps++;
  }
  if (asks.includes('setpoints')) {
    const fields = page.getByTestId('missing-setpoints').locator('input');
    for (const [i, { setpointC }] of zones.entries()) await fields.nth(i).fill(String(setpointC));
    taps += zones.length;
  }
  await yes.and(page.locator(':enabled')).click();
  await yes.waitFor({ state: 'detached' });
  taps++;
  // The lines are recognised again, but they do come.
  expect(await page.getByText('No line yet').count()).toBe(0);
  if (asks.includes('pins')) {
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

function isRight({ now, zones: seen }: LiveState, { speedMmPerS, zones }: Evening): boolean {
  const near = (value: number | null | undefined, wanted: number, within: number) =>
    value !== null && value !== undefined && Math.abs(value - wanted) <= within;
  return (
    near(now.diameterMm, 1.752, 0.02) &&
    near(now.speedMmPerS, speedMmPerS, 1) &&
    zones.every(({ temperatureC, setpointC }, i) => {
      const zone = seen.find((one) => one.zone === i + 1);
      return near(zone?.temperatureC, temperatureC, 2) && near(zone?.setpointC, setpointC, 0.5);
    })
  );
}
