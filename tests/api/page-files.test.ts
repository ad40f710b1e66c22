import { createHash } from 'node:crypto';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestService, type TestService } from './test-service.ts';

let service: TestService;
const folder = mkdtempSync(join(tmpdir(), 'strandward-page-'));
const build = (digest: string) => {
  mkdirSync(join(folder, 'assets'), { recursive: true });
  writeFileSync(join(folder, 'assets', `page-${digest}.js`), `// ${digest}`);
  writeFileSync(join(folder, 'index.html'), `<script src="/assets/page-${digest}.js"></script>`);
};
const text = async (path: string) => Buffer.from((await service.bytes(path)).bytes).toString();

beforeAll(async () => {
  build('first');
  service = await startTestService('simulator:steady', {}, folder);
});
afterAll(async () => {
  await service.stop();
  rmSync(folder, { recursive: true });
});

describe('the files of the page', () => {
  it('are served in their current state, even if they are rebuilt while the service runs', async () => {
    expect(await text('/')).toContain('page-first.js');
    build('second');
    expect(await text('/')).toContain('page-second.js');
    expect(await text('/assets/page-second.js')).toBe('// second');
    expect(await text('/assets/page-first.js')).toBe('// first');
  });

  it('are answered to HEAD as to GET, without their content', async () => {
    for (const path of ['/', '/devices', '/runs', '/certificate', '/assets/page-second.js']) {
      const [get, head] = await Promise.all(['GET', 'HEAD'].map((method) => fetch(service.address + path, { method })));
      expect(await head!.text()).toBe('');
      const [of, ofHead] = [get!, head!].map(({ status, headers }) => [
        status,
        ...['content-type', 'content-length', 'content-security-policy'].map((name) => headers.get(name)),
      ]);
      expect(ofHead).toEqual(of);
    }
    expect((await fetch(`${service.address}/nope`, { method: 'HEAD' })).status).toBe(404);
  });

  it('are cached by the browser only if their name contains a hash of their content; the page shows the line', async () => {
    const kept = async (path: string) => (await service.bytes(path)).headers.get('cache-control');
    expect(await kept('/')).toBe('no-store');
    expect(await kept('/runs')).toBe('no-store');
    expect(await kept('/assets/page-first.js')).toContain('immutable');
  });

  it('bring the frame of the page, the headline as text, the files of its code and its first answers', async () => {
    const frame = {
      html: '<h1 class="{{severity}}">{{sentence}}</h1>',
      files: ['/assets/a.js', '/assets/a.css'],
      asks: ['/api/runs/0?a=1&b=0'],
    };
    writeFileSync(join(folder, 'frames.json'), JSON.stringify({ '/runs/0': frame }));
    writeFileSync(join(folder, 'index.html'), '<head><style>p{}</style></head><body><div id="page"></div></body>');
    const html = await text('/runs/17');
    expect(html).toMatch(/<div id="page"><h1 class="(calm|notice|abnormal|danger)">[^<{]+<\/h1><\/div>/);
    expect(html).toContain('<link rel="modulepreload" fetchpriority="low" crossorigin href="/assets/a.js">');
    expect(html).toContain('<link rel="preload" as="style" crossorigin href="/assets/a.css">');
    expect(html).toContain('<link rel="preload" as="fetch" crossorigin href="/api/runs/17?a=1&amp;b=0">');
    expect(await text('/runs')).not.toContain('<h1');
  });

  it('allow exactly the style that the page brings', async () => {
    writeFileSync(join(folder, 'index.html'), '<style>p{}</style>');
    const policy = (await service.bytes('/')).headers.get('content-security-policy');
    const digest = createHash('sha256').update('p{}').digest('base64');
    expect(policy).toContain(`style-src 'self' 'sha256-${digest}'`);
    expect(policy).not.toContain('unsafe-inline');
    build('second');
  });

  it('give no access to other folders, and a missing one is reported', async () => {
    for (const path of ['/assets/none.js', '/..%2f..%2fetc%2fhost.conf', '/assets/..%2f..%2fstrandward.sqlite'])
      expect((await service.bytes(path)).status).toBeGreaterThanOrEqual(400);
    expect(await service.send('GET', '/api/none')).toMatchObject({ status: 404, body: { status: 404 } });
    expect(await text('/spool')).toContain('page-second.js');
  });
});
