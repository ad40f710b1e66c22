import { execFile } from 'node:child_process';
import { mkdirSync, writeFileSync } from 'node:fs';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { promisify } from 'node:util';
import { createConfig, lintFromString } from '@redocly/openapi-core';
import openapiTS, { astToString, type OpenAPI3 } from 'openapi-typescript';
import { afterAll, beforeAll, describe, expect, it, test } from 'vitest';
import { CONTRACT } from '../../server/api/contract/index.ts';
import { LiveFrame } from '../../server/api/contract/live.ts';
import { partsOf, type RouteSpec } from '../../server/api/contract/route-table.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { startTestService, type TestService, woundBySimulator } from './test-service.ts';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const table: [string, RouteSpec][] = Object.entries(CONTRACT);

let service: TestService;
beforeAll(async () => {
  service = await startTestService('simulator:evening?pace=max');
});
afterAll(() => service.stop());

describe('the table of routes', () => {
  test('declares exactly the parameters in each path', () => {
    for (const [key, { params }] of table) {
      const inPath = [...partsOf(key).path.matchAll(/:(\w+)/g)].map(([, name]) => name);
      expect(Object.keys((params as { properties?: object } | undefined)?.properties ?? {}), key).toEqual(inPath);
    }
  });

  test('has a handler for every entry', async () => {
    const { paths } = await service.get<{ paths: Record<string, object> }>('/openapi.json');
    for (const [key] of table) {
      const { method, path } = partsOf(key);
      const address = path.replaceAll(/:(\w+)/g, '1');
      expect(paths[path.replaceAll(/:(\w+)/g, '{$1}')], key).toHaveProperty(method.toLowerCase());
      // Only checks that the address exists: its input is missing, or the name in the header is invalid.
      const { status, body } = await service.send(method, address, undefined, { 'strandward-by': '%' });
      expect({ key, status, body }).toMatchObject({
        status: 400,
        body: { code: expect.stringMatching(/^bad-(name|request)$/) },
      });
    }
  });

  test('refuses a query that the address does not know', async () => {
    expect(await service.bytes('/api/alarm-journal?from=0&to=1')).toMatchObject({ status: 200 });
    expect(await service.bytes('/api/alarm-journal?from=0&to=1&ticket=1')).toMatchObject({ status: 400 });
  });

  test('refuses a body that the address does not accept', async () => {
    const refused = await service.send('POST', '/api/alarms/acknowledge-all', { by: 'Ada' });
    expect(refused).toMatchObject({ status: 400, body: { title: expect.stringContaining('“by” is not known here') } });
    expect((await service.send('POST', '/api/alarms/acknowledge-all', {})).status).toBe(200);
    expect((await service.send('POST', '/api/alarms/acknowledge-all')).status).toBe(200);
  });
});

describe('the caller of a request', () => {
  const drillBy = async (header: string | null) => {
    const headers = header === null ? {} : { 'strandward-by': header };
    const reply = await service.send('POST', '/api/record/check', undefined, headers);
    const log = await service.get<{ who: string }[]>('/api/log?limit=1');
    return { ...reply, who: log[0]?.who };
  };

  it('is stored as the header states it', async () => {
    expect(await drillBy(encodeURIComponent('Zoë 🙂'))).toMatchObject({ status: 200, who: 'Zoë 🙂' });
    expect(await drillBy('x'.repeat(60))).toMatchObject({ status: 200, who: 'x'.repeat(60) });
  });

  it('is “someone who gave no name” without the header', async () => {
    expect(await drillBy(null)).toMatchObject({ status: 200, who: 'someone who gave no name' });
  });

  it.each(['', '%20', '%', '%FF', 'x'.repeat(61), 'a%00b', 'a%0Ab'])(
    'is refused if it is not a name: %j',
    async (header) => {
      expect(await drillBy(header)).toMatchObject({
        status: 400,
        body: { title: expect.stringContaining('The name in the Strandward-By header') },
      });
    },
  );
});

describe('the live feed as a plain GET', () => {
  it('returns one frame with the state', async () => {
    expect(await service.get('/live')).toMatchObject({ kind: 'state', state: { boot: 'test' } });
  });
});

describe('the OpenAPI document', () => {
  it('is 3.1 and breaks no rule of a general checker of such documents', async () => {
    const document = await service.get<Record<string, unknown>>('/openapi.json');
    expect(document.openapi).toBe('3.1.0');
    const found = await lintFromString({
      source: JSON.stringify(document),
      config: await createConfig({ extends: ['recommended'], rules: RULES }),
    });
    expect(found.map(({ ruleId, message, location }) => `${ruleId} ${location[0]?.pointer}: ${message}`)).toEqual([]);
  });

  it('has schemas for the messages of the live feed', async () => {
    const { components } = await service.get<{ components: { schemas: Record<string, object> } }>('/openapi.json');
    const kinds = LiveFrame.anyOf.map(({ properties }) => properties.kind.const);
    expect(kinds).toEqual(['readings', 'state', 'skipped']);
    expect(Object.keys(components.schemas)).toEqual(
      expect.arrayContaining(['LiveFrame', 'ReadingsFrame', 'StateFrame', 'SkippedFrame', 'Problem']),
    );
  });

  it.skipIf(!IS_LONG_CHECK)('generates a client that compiles and can use one spool', { timeout: 60_000 }, async () => {
    const document = await service.get<OpenAPI3>('/openapi.json');
    const folder = `${ROOT}.build/generated-client`;
    mkdirSync(folder, { recursive: true });
    writeFileSync(`${folder}/strandward.d.ts`, astToString(await openapiTS(document)));
    writeFileSync(`${folder}/walk.ts`, WALK);
    const options =
      '--strict --exactOptionalPropertyTypes --module nodenext --target es2023 --skipLibCheck --types node --ignoreConfig';
    const tsc = `${ROOT}node_modules/typescript-7/bin/tsc`;
    const compiled = await promisify(execFile)(process.execPath, [
      tsc,
      ...options.split(' '),
      `${folder}/walk.ts`,
    ]).catch(({ stdout }: { stdout: string }) => ({ stdout }));
    expect(compiled.stdout).toBe('');
    const wound = await woundBySimulator('blobs-and-necks?seed=11', 12_000);
    try {
      const { walk } = (await import(pathToFileURL(`${folder}/walk.js`).href)) as {
        walk(baseUrl: string, id: number): Promise<string[]>;
      };
      expect(await walk(wound.address, 1)).toEqual([
        'R1-1 has blobs',
        'a stretch was marked by user, and removed',
        'the plan aims at fewestCuts',
        'one cut is ticked off, by Ada, and taken back',
        'coil 1 is called Left box',
        'no such spool: unknown-spool',
      ]);
    } finally {
      await wound.stop();
    }
  });
});

it('serves an AsyncAPI document of the topics on a broker that breaks no rule of the checker', async () => {
  const document = await service.get<{ channels: object }>('/asyncapi.json');
  const found = await lintFromString({
    source: JSON.stringify(document),
    config: await createConfig({ extends: ['spec'] }),
  });
  expect(found.map(({ ruleId, message, location }) => `${ruleId} ${location[0]?.pointer}: ${message}`)).toEqual([]);
  expect(Object.keys(document.channels)).toEqual(['availability', 'state', 'alarms', 'spools', 'messages']);
});

/** What the checker adds to, or takes from, its recommended rules. */
const RULES = {
  'component-name-unique': 'error',
  'no-invalid-media-type-examples': 'error',
  'no-invalid-parameter-examples': 'error',
  'no-invalid-schema-examples': 'error',
  'no-required-schema-properties-undefined': 'error',
  'operation-4xx-problem-details-rfc7807': 'error',
  // Each operation has one answer for every kind of failure, the default one.
  'operation-4xx-response': 'off',
  'operation-tag-defined': 'error',
  'path-params-defined': 'error',
  'spec-strict-refs': 'error',
} as const;

/** Uses one spool through a client generated from the document only. */
const WALK = `
import createClient from 'openapi-fetch';
import type { components, paths } from './strandward.d.ts';

export async function walk(baseUrl: string, id: number): Promise<string[]> {
  const client = createClient<paths>({ baseUrl, headers: { 'strandward-by': 'Ada' } });
  const params = { path: { id } };
  const seen: string[] = [];
  const must = <T>({ data, error }: { data?: T; error?: components['schemas']['Problem'] }): T => {
    if (data === undefined) throw new Error(\`\${error?.title} \${error?.detail}\`);
    return data;
  };
  const { spool, sections } = must(await client.GET('/api/spools/{id}', { params }));
  seen.push(\`\${spool.name} has \${sections.some(({ kind }) => kind === 'blob') ? 'blobs' : 'no blob'}\`);

  const body = { fromSpoolMm: 100, toSpoolMm: 200, verdict: 'doubtful', note: 'felt rough' } as const;
  const marked = must(await client.POST('/api/spools/{id}/sections', { params, body }));
  const gone = await client.DELETE('/api/spools/{id}/sections/{section}', {
    params: { path: { id, section: marked.id } },
  });
  seen.push(\`a stretch was marked by \${marked.origin}, and \${gone.response.status === 204 ? 'removed' : 'kept'}\`);

  const chosen = { objective: 'fewestCuts', shortestMm: 1000 } as const;
  const { objective } = must(await client.PUT('/api/spools/{id}/choices', { params, body: chosen }));
  seen.push(\`the plan aims at \${objective}\`);

  const { steps } = must(await client.GET('/api/spools/{id}/cut-plan', { params }));
  const [step] = steps;
  if (step === undefined) throw new Error('no step');
  const action = step.action === 'discard' ? 'discard' : 'keep';
  const cut = { action, countedMm: step.countedMm, cutsBefore: 0 } as const;
  const { done } = must(await client.POST('/api/spools/{id}/cuts', { params, body: cut }));
  const back = must(await client.DELETE('/api/spools/{id}/cuts/last', { params }));
  if (back.done.length > 0) throw new Error('the cut stayed');
  seen.push(\`one cut is ticked off, by \${done.map(({ who }) => who)}, and taken back\`);

  const named = await client.PUT('/api/spools/{id}/coils/{ordinal}', {
    params: { path: { id, ordinal: 1 } },
    body: { name: 'Left box' },
  });
  seen.push(\`coil 1 is called \${must(named).name}\`);

  const { error } = await client.GET('/api/spools/{id}', { params: { path: { id: 99 } } });
  seen.push(\`no such spool: \${error?.type.split(':').at(-1)}\`);

  // @ts-expect-error no such stage
  if (id < 0) await client.POST('/api/stage', { body: { stage: 'dancing' } });
  // @ts-expect-error the id is missing
  if (id < 0) await client.GET('/api/spools/{id}', {});
  return seen;
}

export function summaryOf(frame: components['schemas']['LiveFrame']): string {
  return frame.kind === 'state' ? frame.state.sentence : frame.kind === 'readings' ? 'readings' : String(frame.frames);
}
`;
