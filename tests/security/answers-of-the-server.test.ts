/** Headers of every answer, and what is answered at an address that does not exist. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Route, routeOf } from '../../server/entities/page-route.ts';
import { startTestService, type TestService } from '../api/test-service.ts';

const PAGES: Readonly<Record<Exclude<Route['page'], 'unknown'>, string>> = {
  live: '/',
  wall: '/wall',
  lines: '/lines',
  'lines-wall': '/lines/wall',
  night: '/night',
  'first-evening': '/first-evening',
  runs: '/runs',
  run: '/runs/1',
  spools: '/spools',
  spool: '/spool/1',
  rewinder: '/spool/1/rewind',
  'cut-list': '/spool/1/cut-list',
  label: '/spool/1/label',
  labelled: '/C/K7M-R3-1-A',
  next: '/next',
  stock: '/stock',
  preparation: '/preparation',
  trends: '/trends',
  alarms: '/alarms',
  'set-up': '/set-up',
  printers: '/printers',
  people: '/people',
  phone: '/phone',
  devices: '/devices',
  compare: '/compare/1,2:3/2',
  answer: '/answer/a1-2-00ff',
  pair: '/pair',
  certificate: '/certificate',
};

let service: TestService;
const folder = mkdtempSync(join(tmpdir(), 'strandward-page-'));
beforeAll(async () => {
  mkdirSync(join(folder, 'assets'));
  writeFileSync(join(folder, 'assets', 'page-digest.js'), '//');
  writeFileSync(join(folder, 'index.html'), '<p>page</p>');
  writeFileSync(join(folder, 'manifest.webmanifest'), '{}');
  service = await startTestService('simulator:steady', {}, folder);
});
afterAll(async () => {
  await service.stop();
  rmSync(folder, { recursive: true });
});

describe('every answer', () => {
  it.each(['/', '/api/state', '/api/nope', '/openapi.json'])('isolates its origin: %s', async (path) => {
    const { headers } = await service.bytes(path);
    expect(headers.get('content-security-policy')).toContain("default-src 'self'");
    expect(headers.get('content-security-policy')).not.toContain('unsafe');
    expect(headers.get('cross-origin-opener-policy')).toBe('same-origin');
    expect(headers.get('cross-origin-resource-policy')).toBe('same-origin');
    expect(headers.get('permissions-policy')).toMatch(/camera=\(\).*geolocation=\(\)/);
    expect(headers.get('x-content-type-options')).toBe('nosniff');
    expect([...headers.keys()].filter((name) => name.startsWith('access-control-'))).toEqual([]);
    expect(headers.get('content-type')).toMatch(/charset=utf-8$/i);
  });

  it('about the line belongs in no cache; files of the page may be cached', async () => {
    const kept = async (path: string) => (await service.bytes(path)).headers.get('cache-control');
    for (const path of ['/', '/api/state', '/api/people', '/api/runs', '/api/nope', '/healthz', '/%ff'])
      expect(await kept(path), path).toBe('no-store');
    expect(await kept('/manifest.webmanifest')).toBe('no-cache');
    expect(await kept('/assets/page-digest.js')).toContain('immutable');
  });
});

describe('an address that does not exist', () => {
  it.each([
    ...['/api/nope', '/api', '/healthz', '/admin', '/runsx', '/.env', '/wp/login', '//api/state'],
    ...[
      '/set-up/nope',
      '/devices/1',
      '/runs/x',
      '/runs//1',
      '//runs',
      '//',
      '/c',
      '/lines/nope',
      '/runs/1/nope',
      '/spool/1/nope',
      '/answer',
      '/compare/x',
    ],
  ])('is answered with a problem, never with the page: %s', async (path) => {
    const { status, headers, bytes } = await service.bytes(path);
    expect(status).toBe(404);
    expect(headers.get('content-type')).toMatch(/^application\/problem\+json/);
    expect(JSON.parse(Buffer.from(bytes).toString())).toMatchObject({ code: 'not-found', status: 404 });
  });

  it.each(Object.entries(PAGES))('is none of the pages, which are all served: %s', async (page, path) => {
    expect(routeOf(path).page).toBe(page);
    for (const one of [path, `${path.replace(/\/$/, '')}/`]) expect((await service.bytes(one)).status, one).toBe(200);
  });
});
