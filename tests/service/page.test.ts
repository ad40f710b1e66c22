import { afterAll, beforeAll, expect, test } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { type RunningService, startService } from './running-service.ts';

let service: RunningService;

beforeAll(async () => {
  service = await startService({ source: 'simulator:steady' });
});
afterAll(() => service?.remove());

const page = async (path: string, headers: Record<string, string> = {}) => {
  const answer = await fetch(`${service.address}${path}`, { headers });
  const html = await answer.text();
  const json = /<script type="application\/json" id="state">(.*?)<\/script>/.exec(html)?.[1];
  return { answer, state: json === undefined ? null : (JSON.parse(json) as LiveState) };
};

test('the page brings the live state along, and is kept in no cache', async () => {
  await service.send('PUT', '/api/settings', { lineName: 'Line </script><b>' });
  for (const path of ['/', '/runs/1', '/wall']) {
    const { answer, state } = await page(path);
    expect(state?.sentence.length).toBeGreaterThan(5);
    expect(state?.lineName).toBe('Line </script><b>');
    expect(answer.headers.get('cache-control')).toBe('no-store');
  }
});

test('a device that is not paired gets the page without the state', async () => {
  const { answer, state } = await page('/', { 'x-forwarded-for': '203.0.113.7' });
  expect([answer.status, state]).toEqual([200, null]);
});

test('code and styles are sent compressed to browsers that accept it', async () => {
  const html = await (await fetch(`${service.address}/`)).text();
  const [, script = ''] = /src="(\/assets\/[^"]+\.js)"/.exec(html) ?? [];
  for (const encoding of ['gzip', 'br', 'identity']) {
    const answer = await fetch(service.address + script, { headers: { 'accept-encoding': encoding } });
    expect(answer.headers.get('content-encoding') ?? 'identity').toBe(encoding);
    expect(await answer.text()).toContain('Strandward');
  }
});

test('pages and answers are sent compressed to browsers that accept it', async () => {
  for (const path of ['/', '/api/state', '/api/settings']) {
    for (const encoding of ['gzip', 'identity']) {
      const answer = await fetch(service.address + path, { headers: { 'accept-encoding': encoding } });
      expect(answer.headers.get('content-encoding') ?? 'identity').toBe(encoding);
      expect(answer.headers.get('vary')).toBe('accept-encoding');
      expect(await answer.text()).toMatch(/Strandward|sentence|lineName/);
    }
  }
});
