/** Alarms on the page, answered by touch and with a screen reader. A silent line is enough to raise one. */
import type { BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test, vi } from 'vitest';
import type { AlarmTypeView, AlarmView } from '../../server/api/contract/alarms.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { type RunningService, startService, until } from '../service/running-service.ts';
import { DESKTOP, PHONE, sharedBrowser, shiftFaults, stateFaults, type TestBrowser } from './browser.ts';
import { OpenedPages } from './opened-pages.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

/** Size that a thumb can hit (WCAG 2.2 requires 24, its stricter level 44), CSS px. */
const THUMB_PX = 44;

let service: RunningService;
let browser: TestBrowser;
const opened = new OpenedPages(
  () => browser,
  () => service.address,
);
const activeAlarms = () => service.get<AlarmView[]>('/api/alarms');
const suppressed = () => service.get<AlarmView[]>('/api/alarms/suppressed');

const open = async (path: string, options: BrowserContextOptions = {}): Promise<Page> =>
  (await opened.open(path, options)).page;

async function withoutBarriers(page: Page): Promise<void> {
  // An element that is still fading in does not have its final contrast.
  await page.evaluate(() => Promise.all(document.getAnimations().map(({ finished }) => finished)));
  expect(await stateFaults(page, new URL(page.url()).pathname)).toEqual([]);
}

beforeAll(async () => {
  // No service listens at this port.
  [service, browser] = await Promise.all([startService({ source: 'tcp:127.0.0.1:9' }), sharedBrowser()]);
  await until(activeAlarms, (list) => list.length === 1, 'the silence', 30_000);
});
afterEach(async () => {
  expect(await opened.close()).toEqual([]);
});
afterAll(async () => {
  await browser?.close();
  await service?.remove();
});

describe('on a phone', () => {
  test('silences an alarm with two presses, shows until when, and ends it with one more', async () => {
    const page = await open('/', { viewport: PHONE, hasTouch: true });
    const alarm = page.locator('[data-testid=alarm][data-type=lineSilent]');
    await alarm.waitFor();
    const suppression = alarm.getByRole('button', { name: 'Silence No data', exact: true });
    expect(await suppression.getAttribute('aria-expanded')).toBe('false');
    await suppression.tap();
    expect(await suppression.getAttribute('aria-expanded')).toBe('true');
    for (const button of await alarm.getByRole('button').all()) {
      const box = (await button.boundingBox())!;
      expect(Math.min(box.width, box.height), (await button.textContent()) ?? '').toBeGreaterThanOrEqual(THUMB_PX);
      expect(box.x + box.width).toBeLessThanOrEqual(PHONE.width);
    }
    await withoutBarriers(page);
    // There is no run that could end.
    expect(await alarm.locator('[data-testid=shelve]').allTextContents()).toEqual(['10 min', '1 h']);
    await alarm.getByLabel(/^Reason/).fill('the board is on the bench');
    await alarm.getByRole('button', { name: 'Silence No data for 10 min' }).tap();
    await alarm.waitFor({ state: 'detached' });
    expect(await page.getByRole('status').textContent()).toMatch(/^No data is silenced until \d\d:\d\d\./);
    const [kept] = await suppressed();
    expect(kept).toMatchObject({ state: 'shelved', suppression: { reason: 'the board is on the bench' } });
    expect(kept!.suppression!.from).toMatch(/^127\.0\.0\.1, /);
    expect(await page.getByTestId('suppressed-alarms').textContent()).toBe('1 silenced alarm');
    const row = page.locator('[data-testid=suppressed][data-type=lineSilent]');
    expect(await row.textContent()).toMatch(
      /Silenced by someone who gave no name until \d\d:\d\d \(.* more\): the board is on the bench\./,
    );
    await withoutBarriers(page);
    await row.getByRole('button', { name: 'End silence of No data' }).tap();
    await alarm.waitFor();
    expect((await activeAlarms())[0]).toMatchObject({ state: 'unacknowledged' });
  });

  test('keeps the words of the navigation apart and off the edges, beside the number of alarms', async () => {
    for (const width of [320, 360, 390, 430]) {
      const page = await open('/set-up', { viewport: { ...PHONE, width } });
      await page.locator('.nav-alarms').waitFor();
      const words = await page.locator('.pages a').evaluateAll((links) =>
        links.map((link) => {
          const seen = [...link.querySelectorAll(':scope > span > :not(.visually-hidden)')];
          const text = document.createRange();
          text.selectNode(link.firstChild!);
          const boxes = [text, ...seen].map((one) => one.getBoundingClientRect());
          return [Math.min(...boxes.map(({ left }) => left)), Math.max(...boxes.map(({ right }) => right))] as const;
        }),
      );
      // A scroll bar takes some of the width.
      const right = await page.evaluate(() => document.documentElement.clientWidth);
      const edges = [[0, 0] as const, ...words, [right, right] as const];
      const gaps = edges.slice(1).map(([left], i) => left - edges[i]![1]);
      expect(words).toHaveLength(6);
      expect(Math.min(...gaps), `${width} px: ${gaps.map(Math.round)}`).toBeGreaterThanOrEqual(8);
    }
  });

  test('shows a problem next to the button that caused it', async () => {
    const { page, complaints } = await opened.open('/', { viewport: PHONE, hasTouch: true });
    const [silent] = (await activeAlarms()) as [AlarmView];
    const acknowledge = page.getByTestId('what-to-do').getByTestId('acknowledge');
    await acknowledge.waitFor();
    await page.route('**/acknowledge', (route) =>
      route.fulfill({
        status: 409,
        contentType: 'application/problem+json',
        body: '{"title":"It was acknowledged already by Ada.","detail":"Nothing to do."}',
      }),
    );
    await acknowledge.tap();
    expect(await page.getByTestId('what-to-do').getByRole('alert').textContent()).toContain(
      'acknowledged already by Ada',
    );
    expect(await page.getByLabel(/What is your name/).count()).toBe(0);
    expect((await activeAlarms())[0]).toMatchObject({ id: silent.id, state: 'unacknowledged' });
    complaints.length = 0;
  });

  test.skipIf(!IS_LONG_CHECK)('says what to do if the browser forbids sound', async () => {
    const page = await open('/', { viewport: PHONE, hasTouch: true });
    await page.evaluate(() => {
      AudioContext.prototype.resume = () => new Promise(() => {});
      Object.defineProperty(AudioContext.prototype, 'state', { get: () => 'suspended' });
    });
    await page.getByRole('button', { name: 'Turn on sound and notifications' }).tap();
    await page.getByRole('button', { name: 'Sound is blocked' }).waitFor();
    expect(await page.getByRole('status').textContent()).toContain('Allow sound for it in the browser’s settings');
  });
});

describe('the page of all alarms', () => {
  const type = (page: Page, name: string) => page.locator(`[data-testid=alarm-type][data-type=${name}]`);
  const openRow = async (page: Page, name: string) => {
    const row = type(page, name);
    await row.getByRole('button').first().click();
    return row;
  };
  const typeOf = async (name: string) =>
    (await service.get<AlarmTypeView[]>('/api/alarm-types')).find((one) => one.type === name)!;

  test('lists every alarm type without accessibility violations, and fits a phone', async () => {
    const all = await service.get<AlarmTypeView[]>('/api/alarm-types');
    for (const viewport of casesOf([PHONE, DESKTOP], 1)) {
      const page = await open('/alarms', { viewport });
      await type(page, 'blob').waitFor();
      expect(await page.getByTestId('alarm-type').count()).toBe(all.length);
      expect(await shiftFaults(page, '/alarms')).toEqual([]);
      expect(await type(page, 'lineSilent').textContent()).toMatch(/^No dataHighnone(Not a|A)cknowledged$/);
      const row = await openRow(page, 'zoneAboveAbsoluteLimit');
      await row.getByRole('button', { name: /^Change/ }).click();
      await withoutBarriers(page);
    }
  });

  test.skipIf(!IS_LONG_CHECK)(
    'reports a wrong value at its field and saves nothing; saves a correct one, and resets it',
    async () => {
      const page = await open('/alarms');
      const garbled = await openRow(page, 'lineGarbled');
      await garbled.getByRole('button', { name: 'Change Garbled lines' }).click();
      await garbled.getByLabel('Raised after (s)', { exact: true }).fill('-3');
      await garbled.getByLabel(/^Deadband/).fill('12');
      await garbled.getByRole('button', { name: 'Save' }).click();
      await page.locator('#lineGarbled-onDelayS:focus').waitFor();
      expect(await garbled.locator('.fault').allTextContents()).toEqual([
        expect.stringMatching(/on-delay is -3 s, and an alarm cannot be raised before its cause/),
        expect.stringMatching(/would return only at -2 % of the lines/),
      ]);
      expect(await typeOf('lineGarbled')).toMatchObject({ changed: false });
      await garbled.getByLabel('Raised after (s)', { exact: true }).fill('8,5');
      await garbled.getByLabel(/^Deadband/).fill('4');
      await garbled.getByLabel('What to check first').fill('Is the blue cable whole?');
      await garbled.getByRole('button', { name: 'Save' }).click();
      await until(
        () => typeOf('lineGarbled'),
        ({ changed }) => changed,
        'the new setting',
      );
      expect(await typeOf('lineGarbled')).toMatchObject({
        onDelayS: 8.5,
        deadband: 4,
        firstCheck: 'Is the blue cable whole?',
      });
      await garbled.getByRole('button', { name: 'Restore the defaults of Garbled lines' }).click();
      await until(
        () => typeOf('lineGarbled'),
        ({ changed }) => !changed,
        'the setting of before',
      );
    },
  );

  test.skipIf(!IS_LONG_CHECK)(
    'takes an alarm of a zone out of service with a reason and a name, and returns it',
    async () => {
      const page = await open('/alarms');
      await page.getByLabel('Your name on this device').fill('Ada');
      const jumping = await openRow(page, 'sensorJumping');
      await jumping.getByRole('button', { name: 'Take reading jumps out of service' }).click();
      await jumping.getByRole('button', { name: 'Take it out of service' }).click();
      await page.locator('#out-sensorJumping-zone-1:focus').waitFor();
      await jumping.getByRole('checkbox', { name: 'Zone 3' }).check();
      await jumping.getByRole('checkbox', { name: 'Zone 4' }).check();
      await jumping.getByRole('button', { name: 'Take it out of service' }).click();
      await page.locator('#out-sensorJumping-why:focus').waitFor();
      expect(await suppressed()).toEqual([]);
      await jumping.getByLabel('Why').fill('no sensor fitted');
      await jumping.getByRole('button', { name: 'Take it out of service' }).click();
      const rows = page.locator('[data-testid=suppressed][data-type=sensorJumping]');
      await rows.nth(1).waitFor();
      const row = rows.filter({ hasText: 'Zone 3' });
      expect(await row.textContent()).toMatch(
        /Zone 3: reading jumps Out of service since .*, taken out by Ada: no sensor fitted\./,
      );
      expect(await jumping.locator('.type-row').textContent()).toMatch(
        /Out of service \(zone 3\), Out of service \(zone 4\)someone returns it to service$/,
      );
      for (const zone of [3, 4]) {
        await rows.getByRole('button', { name: `Return Zone ${zone}: reading jumps to service` }).click();
        await rows.filter({ hasText: `Zone ${zone}` }).waitFor({ state: 'detached' });
      }
      const journal = page.getByRole('form', { name: 'Search the journal' });
      await journal.getByLabel('Alarm, name or reason').fill('ada sensor fitted');
      await journal.getByLabel('What happened').selectOption('Taken out of service');
      await journal.getByRole('button', { name: 'Search' }).click();
      const entries = page.getByTestId('journal-entry');
      await until(
        () => entries.allTextContents(),
        (texts) =>
          texts.length === 2 && texts.every((text) => /taken out of service by Ada: no sensor fitted/.test(text)),
        'the two entries',
      );
      const download = page.waitForEvent('download');
      await page.getByTestId('journal-csv').click();
      expect((await download).suggestedFilename()).toBe('alarms.csv');
    },
  );
});
