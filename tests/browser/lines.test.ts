/** Several lines in a real browser: another one is added, watched, answered, lost, and shown on the wall. */
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import { type RunningService, startService, until } from '../service/running-service.ts';
import { DESKTOP, PHONE, sharedBrowser, stateFaults, type TestBrowser } from './browser.ts';
import { OpenedPages } from './opened-pages.ts';

vi.setConfig({ testTimeout: 180_000, hookTimeout: 120_000 });

describe('several lines', () => {
  let front: RunningService;
  let other: RunningService;
  let browser: TestBrowser;
  const opened = new OpenedPages(
    () => browser,
    () => front.address,
  );
  beforeAll(async () => {
    [front, other, browser] = await Promise.all([
      startService({ source: 'simulator:steady', args: ['--log', 'silent'] }),
      startService({ source: 'simulator:blobs-and-necks?seed=5&pace=10', args: ['--log', 'silent'] }),
      sharedBrowser(),
    ]);
    await other.send('PUT', '/api/settings', { lineName: 'Garage' });
  });
  afterEach(async () => {
    // An address that is none is refused, as it should be.
    expect((await opened.close()).filter((text) => !text.includes('400 (Bad Request)'))).toEqual([]);
  });
  afterAll(async () => {
    await Promise.all([front?.remove(), other?.remove()]);
  });

  const tokenFor = async (right: string): Promise<string> =>
    (await other.send('POST', '/api/tokens', { name: `front ${right}`, right })).body.token;
  const unanswered = async () =>
    (await other.get<{ alarms: AlarmView[] }>('/api/state')).alarms.filter(({ state }) => state === 'unacknowledged');

  it('adds one, shows its strand, and answers its alarm from there', async () => {
    const { page } = await opened.open('/lines', { viewport: PHONE });
    await page.getByText('Only this line so far').waitFor();
    await page.getByRole('link', { name: 'Other lines' }).click();
    const add = page.getByRole('button', { name: 'Add another line' });
    await add.waitFor();
    await page.waitForFunction(() => {
      const { top, bottom } = document.getElementById('other-lines')!.getBoundingClientRect();
      return top < innerHeight && bottom > 0;
    });
    await add.click();
    await page.getByLabel('Address').fill('no address');
    await page.getByRole('button', { name: 'Add the line' }).click();
    await page.getByText('“no address” is not the address of a line.').waitFor();
    await page.getByLabel('Address').fill(other.address);
    await page.getByLabel('Token to watch').fill(await tokenFor('watch'));
    await page.getByLabel('Token to act').fill(await tokenFor('act'));
    await page.getByRole('button', { name: 'Add the line' }).click();
    await page.getByText('Alarms can be acknowledged from here').waitFor();
    await until(unanswered, (alarms) => alarms.length > 0, 'an alarm of the other line', 90_000);
    await page.goto(`${front.address}/lines`);
    const row = page.getByTestId('line').filter({ has: page.getByRole('link', { name: 'Garage' }) });
    const press = row.getByTestId('acknowledge');
    await press.waitFor();
    expect(await stateFaults(page, 'lines')).toEqual([]);
    // The worst first.
    expect(await page.getByTestId('line').first().getByRole('heading').textContent()).toBe('Garage');
    const title = (await row.locator('.line-alarm strong').textContent())!.replace(/\.$/, '');
    await press.click();
    await until(
      () => other.get<{ alarms: AlarmView[] }>('/api/state'),
      ({ alarms }) => alarms.some((alarm) => alarm.title === title && alarm.state === 'acknowledged'),
      'its answer on its own page',
    );
  });

  it('is as loud about a line that is gone as its own page, and says nothing on the wall that needs a press', async () => {
    const { page } = await opened.open('/lines/wall', { viewport: DESKTOP });
    const row = page.getByTestId('line').filter({ hasText: 'Garage' });
    await row.waitFor();
    await other.kill();
    await page.waitForFunction(
      () => document.querySelector('[data-testid=line]')?.getAttribute('data-severity') === 'danger',
    );
    expect(await page.getByTestId('line').first().textContent()).toContain('Garage');
    expect(await page.getByRole('button').count()).toBe(0);
    expect(await stateFaults(page, 'lines on the wall')).toEqual([]);
  });
});
