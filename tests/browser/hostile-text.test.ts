/// <reference lib="dom" />
/** Names and notes that are markup, script or SQL: every page shows them as the text they are. */

import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import { IS_LONG_CHECK } from '../long-check.ts';
import { type RunningService, startService, until } from '../service/running-service.ts';
import { pageFaults, sharedBrowser, type TestBrowser } from './browser.ts';

vi.setConfig({ testTimeout: 90_000, hookTimeout: 120_000 });

const MARKUP = `"><img src=x onerror="window.hit=1"><script>window.hit=2</script>'); DROP TABLE run; --`;
/** Names of devices and people are shorter. */
const SHORT = `<img src=x onerror="window.hit=3">'); DROP TABLE run`;

let service: RunningService;
let browser: TestBrowser;
beforeAll(async () => {
  [service, browser] = await Promise.all([startService({ source: 'simulator:evening?pace=20' }), sharedBrowser()]);
});
afterAll(async () => {
  await browser?.close();
  await service?.remove();
});

test.skipIf(!IS_LONG_CHECK)('no page runs or draws what users typed', async () => {
  const by = { 'strandward-by': encodeURIComponent(SHORT) };
  const send = async (method: string, path: string, body?: object) => {
    const reply = await service.send(method, path, body, by);
    expect(reply.status, `${method} ${path} ${JSON.stringify(reply.body)}`).toBeLessThan(300);
    return reply.body;
  };
  await send('POST', '/api/stage', { stage: 'winding' });
  const state = () => service.get<{ spool: { id: number } | null; run: { id: number } | null }>('/api/state');
  const { spool, run } = await until(state, (now) => now.spool !== null && now.run !== null, 'a spool');
  await send('PUT', '/api/settings', { lineName: SHORT });
  await send('POST', '/api/printers', {
    name: SHORT,
    hotendLimitMm: 1.9,
    smallestFeedableMm: 1.6,
    toleranceMm: 0.05,
    note: MARKUP,
  });
  const settings = { kind: 'webhook', url: 'http://127.0.0.1:9/', secret: '', template: '' };
  await send('POST', '/api/channels', { name: SHORT, settings });
  await send('POST', '/api/people', { name: SHORT, channelIds: [], leastPriority: 'low', quiet: null, round: 1 });
  await send('POST', '/api/tokens', { name: SHORT, right: 'watch' });
  await send('PUT', `/api/runs/${run?.id}/note`, { note: MARKUP });
  await send('PUT', `/api/spools/${spool?.id}/note`, { note: MARKUP });
  await send('POST', '/api/record/check');

  const { page, complaints, close } = await browser.page();
  const look = () =>
    page.evaluate(() => ({
      hit: 'hit' in window,
      drawn: document.querySelectorAll('img[src="x"], main script').length,
      text: [document.body, ...document.querySelectorAll('input, textarea')].map((node) =>
        'value' in node ? String(node.value) : (node.textContent ?? ''),
      ),
    }));
  // Each shows at least one of them, as text.
  for (const path of [
    '/',
    `/spool/${spool?.id}`,
    `/spool/${spool?.id}/label`,
    '/runs',
    `/runs/${run?.id}`,
    '/printers',
    '/people',
    '/devices',
    '/set-up',
  ]) {
    await page.goto(service.address + path);
    const found = await until(
      look,
      ({ text }) => text.some((one) => one.includes('<img src=x')),
      `the text on ${path}`,
    );
    expect([path, found.hit, found.drawn]).toEqual([path, false, 0]);
  }
  expect(complaints.filter((text) => /security policy|uncaught/.test(text))).toEqual([]);

  await send('PUT', '/api/settings', { lineName: 'x'.repeat(60) });
  await page.setViewportSize({ width: 1120, height: 800 });
  await page.goto(service.address);
  await until(look, ({ text }) => text.some((one) => one.includes('xxx')), 'the longest name of a line');
  expect(await pageFaults(page, 'under the longest name of a line', '.masthead')).toEqual([]);
  expect((await service.get<unknown[]>('/api/runs')).length).toBeGreaterThan(0);
  await close();
});
