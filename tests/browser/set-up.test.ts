/** From a board that was just plugged in to a line that is watched: the guided part of the set-up page. */
import type { Locator, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test, vi } from 'vitest';
import type { IncomingView } from '../../server/api/contract/incoming.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { SKETCHES, type Sketch, truthAt } from '../door/sketches.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { SketchBoard } from '../service/sketch-board.ts';
import { contrastFaults, DESKTOP, PHONE, sharedBrowser, stateFaults, type TestBrowser } from './browser.ts';
import { OpenedPages } from './opened-pages.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

let board: SketchBoard;
let service: RunningService;
let browser: TestBrowser;
const opened = new OpenedPages(
  () => browser,
  () => service.address,
);

const sketch = (name: string): Sketch => {
  const found = SKETCHES.find((one) => one.name === name);
  if (found === undefined) throw new TypeError(`There is no sketch “${name}”.`);
  return found;
};
const state = () => service.get<LiveState>('/api/state');
const roles = async () =>
  (await service.get<{ settings: { roles: Record<string, unknown>[] } }>('/api/settings')).settings.roles;
const row = (page: Page, name: string) => page.locator(`[data-signal="${name}"]`);
const yes = (page: Page) => page.getByRole('button', { name: /^Yes, use/ });
const text = async (one: Locator) => ((await one.textContent()) ?? '').trim();
/** The browser logs every answer with an error status, also those that the test provokes. */
const without = (complaints: string[], status: number) =>
  complaints.splice(0).filter((one) => !one.includes(`status of ${status}`));

beforeAll(async () => {
  board = await new SketchBoard(sketch('own names')).start();
  [service, browser] = await Promise.all([
    startService({ source: board.source, dataFolder: newDataFolder(), args: ['--log', 'warn'] }),
    sharedBrowser(),
  ]);
});

beforeEach(async () => {
  await service.send('PUT', '/api/settings', {
    roles: [],
    unusedFields: [],
    setSpeedMmPerS: 0,
    setpointsC: [],
    pathMeasured: false,
    gaugeToWinderMm: 1200,
  });
});

afterEach(async () => {
  expect(await opened.close()).toEqual([]);
});

afterAll(async () => {
  await browser?.close();
  await service?.remove();
  await board?.stop();
});

describe('a board with a sketch of its own', () => {
  beforeAll(() => board.load(sketch('own names')));

  test('is mapped with one tap', async () => {
    const { page } = await opened.open('/set-up', { viewport: PHONE });
    await yes(page).and(page.locator(':enabled')).waitFor();
    expect(await text(yes(page))).toBe('Yes, use these 5 signals');
    expect(await row(page, 'D').textContent()).toMatch(/looks like the/);
    expect(await row(page, 'pwm').textContent()).toMatch(/looks like the/);
    await page.getByText('0 of 7 done').waitFor();
    await yes(page).click();
    await until(state, (s) => s.now.diameterMm !== null && s.now.speedMmPerS !== null, 'a watched line');
    expect((await state()).now.diameterMm).toBeCloseTo(1.75, 1);
    expect((await roles()).map(({ name, role, unit }) => [name, role, unit])).toEqual([
      ['D', 'd', 'mm'],
      ['TempA', 't1', 'C'],
      ['SetA', 's1', 'C'],
      ['pwm', 'p1', 'of255'],
      ['pull', 'v', 'mm/s'],
    ]);
    await page.getByText('5 of 7 done').waitFor();
    await yes(page).waitFor({ state: 'detached' });
    expect(await row(page, 'D').textContent()).toMatch(/is the/);
  });

  test.skipIf(!IS_LONG_CHECK)('has each role and its unit on one line of a narrow phone', async () => {
    const { page } = await opened.open('/set-up', { viewport: { width: 360, height: 780 } });
    await yes(page).and(page.locator(':enabled')).waitFor();
    for (const name of ['TempA', 'pwm']) {
      const role = await page.getByLabel(`Meaning of ${name}`).boundingBox();
      const unit = await page.getByLabel(`Unit of ${name}`).boundingBox();
      expect(Math.abs((role?.y ?? 0) - (unit?.y ?? 1000))).toBeLessThan(10);
    }
  });

  test.skipIf(!IS_LONG_CHECK)('shows the new value as soon as a unit is changed', async () => {
    await service.send('PUT', '/api/settings', { roles: [{ name: 'TempA', role: 't1', factor: 1, offset: 0 }] });
    const { page } = await opened.open('/set-up');
    const temperature = row(page, 'TempA').getByTestId('value');
    await until(
      () => text(temperature),
      (shown) => Math.abs(Number.parseFloat(shown) - 185) < 2,
      'the temperature in °C',
    );
    await page.getByLabel('Unit of TempA').selectOption('°F');
    await until(
      () => text(temperature),
      (shown) => Math.abs(Number.parseFloat(shown) - 85) < 2 && shown.endsWith('°C'),
      'the temperature from °F',
    );
    const others = ['D', 'SetA', 'pwm', 'pull'];
    for (const name of others) await page.getByLabel(`Meaning of ${name}`).selectOption('');
    await page.getByRole('button', { name: 'Save 5 changes' }).click();
    await until(roles, ([one]) => one?.unit === 'F', 'the unit');
    expect(await roles()).toHaveLength(1);
    // What was declined is not proposed again.
    await page.reload();
    await row(page, 'pull').getByText('is', { exact: true }).waitFor();
    for (const name of others) expect(await page.getByLabel(`Meaning of ${name}`).inputValue()).toBe('');
    expect((await service.get<IncomingView>('/api/incoming')).proposed).toEqual([]);
  });

  test('gets each role once, and a choice replaces a proposal', async () => {
    await service.send('PUT', '/api/settings', {
      roles: [{ name: 'TempA', role: 't1', factor: 1, offset: 0, unit: 'C' }],
    });
    const { page } = await opened.open('/set-up');
    const taken = page.getByLabel('Meaning of SetA').locator('option', { hasText: 'temperature of zone 1' });
    await until(
      () => text(taken),
      (shown) => shown === 'temperature of zone 1 – TempA',
      'by whom it is taken',
    );
    expect(await taken.getAttribute('disabled')).not.toBeNull();
    await page.getByLabel('Meaning of pwm').selectOption('v');
    await until(
      () => page.getByLabel('Meaning of pull').inputValue(),
      (role) => role === '',
      'the proposal to give way',
    );
  });

  test.skipIf(!IS_LONG_CHECK)('with Cyrillic and quoted names is mapped with one tap', async () => {
    board.load({
      ...sketch('own names'),
      print: (s) => `"Диаметр": ${truthAt(s).d.toFixed(3)} мм, <b>'Темп' & "зона"</b> ${truthAt(s).t1.toFixed(1)} °C\n`,
    });
    const { page } = await opened.open('/set-up', { viewport: PHONE });
    await row(page, 'Диаметр').waitFor();
    await page.getByRole('button', { name: 'Yes, use these 2 signals' }).and(page.locator(':enabled')).click();
    await until(state, ({ now, zones }) => now.diameterMm !== null && zones.length === 1, 'a watched line');
    const saved = await roles();
    expect(saved.map(({ role }) => role)).toEqual(['d', 't1']);
    expect(saved.map(({ name }) => name)).toEqual(['Диаметр', 'Темп & зона']);
    board.load(sketch('own names'));
    await row(page, 'pwm').waitFor();
  });

  test.skipIf(!IS_LONG_CHECK)('shows signals accepted on another device as accepted', async () => {
    const { page } = await opened.open('/set-up');
    await yes(page).and(page.locator(':enabled')).waitFor();
    const elsewhere = [{ name: 'D', role: 'd', factor: 1, offset: 0, unit: 'mm' }];
    await service.send('PUT', '/api/mapping', { roles: elsewhere, before: [] });
    await row(page, 'D').getByText('is the').waitFor();
    await page.getByRole('button', { name: 'Yes, use these 4 signals' }).waitFor();
  });

  test.skipIf(!IS_LONG_CHECK)('overwrites nothing that another device changed, and keeps what was chosen', async () => {
    const { page, complaints } = await opened.open('/set-up');
    await page.getByLabel('Unit of pull').selectOption('m/min');
    await yes(page).and(page.locator(':enabled')).waitFor();
    const elsewhere = [{ name: 'D', role: 'd', factor: 1, offset: 0.01, unit: 'mm' }];
    await service.send('PUT', '/api/mapping', { roles: elsewhere, before: [] });
    await yes(page).click();
    await page.getByText('The signals were changed on another device in the meantime.').waitFor();
    expect(await roles()).toEqual(elsewhere);
    expect(await page.getByLabel('Unit of pull').inputValue()).toBe('m/min');
    expect(without(complaints, 409)).toEqual([]);

    await page.getByRole('button', { name: 'Yes, use these 4 signals' }).click();
    const saved = await until(roles, (all) => all.length === 5, 'all five');
    expect(saved.find(({ name }) => name === 'D')).toEqual(elsewhere[0]);
    expect(saved.find(({ name }) => name === 'pull')).toMatchObject({ role: 'v', unit: 'm/min' });
  });
});

describe('what a board does not send', () => {
  test('is asked for beside the proposal: a speed is saved with it. Then path, and only what can be skipped', async () => {
    board.load(sketch('prose in inches and Fahrenheit'));
    const { page } = await opened.open('/set-up');
    const question = (what: string) => page.getByTestId(`missing-${what}`);
    await question('speed').getByLabel('Seconds for one metre').fill('25');
    expect(await question('speed').getByLabel('Strand speed, mm/s').inputValue()).toBe('40');
    const all = page.getByRole('button', { name: 'Yes, use these 3 signals and 1 value' });
    await question('speed').getByLabel('Strand speed, mm/s').fill('4000');
    expect(await all.isDisabled()).toBe(true);
    await question('speed').getByLabel('Strand speed, mm/s').fill('40');
    await all.and(page.locator(':enabled')).click();
    await question('speed').waitFor({ state: 'detached' });

    await question('path').getByLabel('Path, mm').fill('850');
    await question('path').getByRole('button', { name: 'Save the path' }).click();
    await question('path').waitFor({ state: 'detached' });
    await question('power').getByRole('button', { name: 'Fine, go on' }).click();
    await question('pins').getByRole('button', { name: 'Skip for now' }).click();
    await page.getByText('Everything needed is set.').waitFor();
    await page.getByText('7 of 7 done').waitFor();
    const { settings } = await service.get<{ settings: Record<string, unknown> }>('/api/settings');
    expect(settings).toMatchObject({ setSpeedMmPerS: 40, gaugeToWinderMm: 850, pathMeasured: true });
    await page.getByRole('link', { name: 'Go to the live page' }).click();
    await page.getByTestId('diameter-now').waitFor();
  });

  test.skipIf(!IS_LONG_CHECK)('is asked for: the set-points of zones that have none', async () => {
    board.load(sketch('own names'));
    await service.send('PUT', '/api/settings', {
      roles: [
        { name: 'D', role: 'd', factor: 1, offset: 0.001, unit: 'mm' },
        { name: 'TempA', role: 't1', factor: 1, offset: 0, unit: 'C' },
      ],
    });
    const { page } = await opened.open('/set-up');
    for (const name of ['SetA', 'pwm', 'pull']) await page.getByLabel(`Meaning of ${name}`).selectOption('');
    const question = page.getByTestId('missing-setpoints');
    await question.getByRole('button', { name: 'At temperature now: use 185 °C' }).click();
    expect(await question.getByLabel('Feed zone, °C').inputValue()).toBe('185');
    await page.getByRole('button', { name: 'Save 4 changes' }).click();
    await until(
      async () => (await service.get<IncomingView>('/api/incoming')).missing,
      (missing) => !missing.includes('setpoints'),
      'the set-points',
    );
  });

  test.skipIf(!IS_LONG_CHECK)('is asked for: which field is the diameter', async () => {
    board.load(sketch('own names'));
    const { page } = await opened.open('/set-up');
    for (const name of ['D', 'TempA', 'SetA', 'pwm', 'pull'])
      await page.getByLabel(`Meaning of ${name}`).selectOption('');
    const question = page.getByTestId('missing-diameter');
    await question.getByRole('button', { name: /^D 1\.7/ }).click();
    await page.getByRole('button', { name: 'Yes, use this signal' }).click();
    expect(await until(roles, (all) => all.length === 1, 'the diameter')).toEqual([
      { name: 'D', role: 'd', factor: 1, offset: 0, unit: 'mm' },
    ]);
  });
});

test.skipIf(!IS_LONG_CHECK)('a raw count becomes a diameter by two pins, with nothing else accepted', async () => {
  board.load(sketch('raw counts of the gauge'));
  const { page } = await opened.open('/set-up');
  const gauge = row(page, 'adc');
  await gauge.getByText('raw count').waitFor();
  await until(
    () => text(yes(page)),
    (shown) => shown === 'Yes, use these 3 signals',
    'the other signals',
  );
  // The sketch counts from 0.2 mm in steps of 2 µm; a pin of 1.50 mm gives 650 counts.
  await gauge.getByRole('button', { name: 'Capture pin 1' }).click();
  const readings = gauge.getByLabel('Raw reading');
  await until(
    () => readings.nth(0).inputValue(),
    (shown) => Math.abs(Number(shown) - 776) < 8,
    'the reading of the strand',
  );
  await readings.nth(0).fill('650');
  await readings.nth(1).fill('900');
  await gauge.getByText(/The gauge now shows 1\.7\d\d mm/).waitFor();
  await gauge.getByRole('button', { name: 'Use this calibration' }).click();
  const saved = await until(roles, (all) => all.length > 0, 'the calibration');
  expect(saved).toEqual([{ name: 'adc', role: 'd', factor: 0.002, offset: 0.2, unit: 'mm', calibrated: true }]);
  await until(state, (s) => Math.abs((s.now.diameterMm ?? 0) - 1.752) < 0.015, 'the diameter');
});

describe('lines that cannot be read', () => {
  test.skipIf(!IS_LONG_CHECK)('are shown as received, with why', async () => {
    const good = sketch('own names');
    board.load({
      ...good,
      print: (s, i) => (i > 20 && i % 10 === 0 ? 'heater [on] fan [off]\n' : good.print(s, i)),
    });
    await until(
      () => service.get<IncomingView>('/api/incoming'),
      ({ dropped }) => dropped[0]?.text.startsWith('heater') === true,
      'the change of sketch to be over',
    );
    const { page } = await opened.open('/set-up');
    const unread = page.getByTestId('unread');
    await unread.locator('summary').click();
    await unread.getByText('heater [on] fan [off]').first().waitFor();
    await unread.getByText('Unreadable').first().waitFor();
    await page.getByText(/^Format: name=value/).waitFor();
    board.load(sketch('nested JSON'));
    await page.getByText(/^Format: JSON \(was name=value\)/).waitFor();
  });

  test.skipIf(!IS_LONG_CHECK)('that never end are reported as such, and read once they do', async () => {
    board.load({ ...sketch('own names'), print: () => 'D:1.752 T:198.4 '.repeat(125) });
    const { page } = await opened.open('/set-up');
    await page.getByText('The board sends text without line ends.').waitFor({ timeout: 40_000 });
    board.load(sketch('own names'));
    await row(page, 'D').waitFor();
    await page.getByText('The board sends text without line ends.').waitFor({ state: 'detached' });
  });

  test.skipIf(!IS_LONG_CHECK)('whose words change each time show which formats were tried', async () => {
    const id = (i: number) => ((i * 2654435761) >>> 0).toString(16).padStart(8, '0');
    board.load({ ...sketch('own names'), print: (s, i) => `[x${id(i)}] dia ${truthAt(s).d.toFixed(3)}\n` });
    const { page } = await opened.open('/set-up');
    await page.getByText('Lines arrive, but none can be read.').waitFor({ timeout: 40_000 });
    await page.getByText('Tried: name=value, JSON, columns and free text.').waitFor();
    expect(await stateFaults(page, 'unread lines')).toEqual([]);
    await page
      .getByTestId('unread')
      .getByText(/^\[x[\da-f]{8}\] dia 1\.7/)
      .first()
      .waitFor();
    await page.getByRole('checkbox', { name: /^The number after dia, now 1\.7/ }).check();
    await page.getByRole('button', { name: 'Read this number' }).click();
    await page.getByRole('button', { name: 'Yes, use this signal' }).and(page.locator(':enabled')).click();
    await until(state, ({ now }) => Math.abs((now.diameterMm ?? 0) - 1.75) < 0.1, 'the diameter');
    await service.send('PUT', '/api/settings', { pointedAt: [], roles: [] });
    board.load(sketch('own names'));
    await row(page, 'D').waitFor();
  });

  test.skipIf(!IS_LONG_CHECK)('that are not text point to the baud rate', async () => {
    board.load(sketch('nested JSON'));
    const { page } = await opened.open('/set-up');
    await row(page, 'gauge.d').waitFor();
    expect(await page.getByText('baud rate').count()).toBe(0);
    board.load({
      ...sketch('own names'),
      linesPerS: 20,
      print: (_, i) => Uint8Array.from({ length: 40 }, (_, k) => ((i * 97 + k * 151) % 256) | 128),
    });
    await page.getByText('This is not text. The baud rate is probably wrong.').waitFor({ timeout: 40_000 });
  });

  describe('that are text at another baud rate', () => {
    async function openAtWrongRate(source: string) {
      const saved: unknown[] = [];
      const { page } = await opened.open('/runs');
      await page.route('**/api/incoming', async (route) => {
        const seen = (await (await route.fetch()).json()) as IncomingView;
        const baud = { current: 115_200, found: 9600, trying: null };
        await route.fulfill({ json: { ...seen, readingsPerS: 0, fields: [], isNoText: true, baud } });
      });
      await page.route('**/api/settings', async (route) => {
        if (route.request().method() === 'PUT') saved.push(route.request().postDataJSON());
        const answer = (await (await route.fetch({ method: 'GET' })).json()) as { settings: object };
        await route.fulfill({ json: { ...answer, settings: { ...answer.settings, source } } });
      });
      await page.goto(`${service.address}/set-up`);
      return { page, saved };
    }

    test('offer it with one tap', async () => {
      const { page, saved } = await openAtWrongRate('serial:/dev/ttyUSB0?baud=115200');
      await page.getByRole('button', { name: 'Use 9600 baud' }).click();
      await vi.waitFor(() => expect(saved).toEqual([{ source: 'serial:/dev/ttyUSB0?baud=9600' }]));
      await page.unrouteAll({ behavior: 'wait' });
    });

    test.skipIf(!IS_LONG_CHECK)('say where to change it if the source was set at the start', async () => {
      const { page } = await openAtWrongRate('');
      await page.getByText('?baud=9600').waitFor();
      expect(await page.getByRole('button', { name: 'Use 9600 baud' }).count()).toBe(0);
      await page.unrouteAll({ behavior: 'wait' });
    });
  });

  test.skipIf(!IS_LONG_CHECK)('that do not arrive show what to check', async () => {
    board.load({ ...sketch('own names'), print: () => '' });
    const { page } = await opened.open('/set-up');
    await page.getByText('Is the sketch running').waitFor({ timeout: 40_000 });
    board.load(sketch('own names'));
    await row(page, 'D').waitFor();
  });
});

test.skipIf(!IS_LONG_CHECK).each([
  ['dark', 'light', 'phone', PHONE],
  ['light', 'dark', 'desktop', DESKTOP],
] as const)('has no serious WCAG 2.2 AA violations: %s and %s, %s', async (colorScheme, other, _device, viewport) => {
  board.load(sketch('raw counts of the gauge'));
  const { page } = await opened.open('/set-up', { colorScheme, viewport });
  await row(page, 'adc').getByText('raw count').waitFor();
  await page.getByText('More settings').click();
  await page.getByText('Calibration', { exact: true }).click();
  const faults = await stateFaults(page, 'proposal');
  faults.push(...(await contrastFaults(page, 'proposal', other)));
  await yes(page).and(page.locator(':enabled')).click();
  await page.getByTestId('missing-path').waitFor();
  faults.push(...(await stateFaults(page, 'questions')));
  expect(faults).toEqual([]);
});
