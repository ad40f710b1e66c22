/** Which right each route needs, and that it is enforced. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { CONTRACT } from '../../server/api/contract/index.ts';
import { partsOf, type RouteSpec } from '../../server/api/contract/route-table.ts';
import { RIGHTS, type Right } from '../../server/entities/device.ts';
import { startTestService, type TestService } from '../api/test-service.ts';
import { askAs, pageOf, pairedAs } from './other-device.ts';

const table = Object.entries(CONTRACT) as [string, RouteSpec][];

it('GET only reads: what changes something has another method', () => {
  const reading = table.filter(([key]) => key.startsWith('GET '));
  expect(reading.filter(([, { right }]) => right === 'act' || right === 'manage').map(([key]) => key)).toEqual([
    'GET /api/devices',
  ]);
  expect(reading.filter(([, { body, consumes }]) => body !== undefined || consumes !== undefined)).toEqual([]);
});

it('every route needs the right that is listed here', () => {
  const listed = Object.fromEntries(
    ['none', ...RIGHTS].map((right) => [right, table.filter(([, spec]) => spec.right === right).map(([key]) => key)]),
  );
  expect(listed).toMatchInlineSnapshot(`
    {
      "act": [
        "POST /api/stage",
        "POST /api/spools/continue",
        "DELETE /api/spools/proposed-change",
        "POST /api/spools/change",
        "POST /api/lines/:id/alarms/:alarmId/acknowledge",
        "POST /api/alarms/acknowledge-all",
        "POST /api/alarms/:id/acknowledge",
        "POST /api/alarms/:id/reset",
        "POST /api/alarms/:id/shelve",
        "POST /api/alarms/:id/unshelve",
        "POST /api/phones",
        "POST /api/drills",
        "POST /api/drills/:id/confirm",
        "PUT /api/runs/:id/note",
        "PUT /api/runs/:id/title",
        "PUT /api/runs/:id/test",
        "POST /api/lots",
        "PUT /api/runs/:id/lot",
        "PUT /api/spools/:id/note",
        "PUT /api/spools/:id/title",
        "PUT /api/spools/:id/wanted",
        "POST /api/spools/:id/start",
        "POST /api/spools/:id/split",
        "POST /api/spools/:id/sections",
        "PUT /api/spools/:id/sections/:section",
        "DELETE /api/spools/:id/sections/:section",
        "PUT /api/spools/:id/sections/:section/dismissal",
        "POST /api/spools/:id/sections/:section/cut-out",
        "POST /api/spools/:id/sections/:section/leave",
        "DELETE /api/spools/:id/sections/:section/decision",
        "POST /api/spools/:id/sections/:section/restore",
        "PUT /api/spools/:id/length-correction",
        "DELETE /api/spools/:id/length-correction",
        "PUT /api/spools/:id/weighing",
        "DELETE /api/spools/:id/weighing",
        "PUT /api/spools/:id/choices",
        "POST /api/spools/:id/cuts",
        "POST /api/spools/:id/cuts/several",
        "PUT /api/spools/:id/cuts/last",
        "DELETE /api/spools/:id/cuts/last",
        "PUT /api/spools/:id/coils/:ordinal",
        "POST /api/stock/:code/uses",
        "DELETE /api/stock/:code/uses/:id",
      ],
      "manage": [
        "POST /api/heat/forget",
        "POST /api/lines",
        "PUT /api/lines/:id",
        "DELETE /api/lines/:id",
        "POST /api/lines/:id/copy",
        "POST /api/alarms/:id/return-to-service",
        "POST /api/alarm-types/:type/out-of-service",
        "PUT /api/alarm-types/:type",
        "DELETE /api/alarm-types/:type",
        "POST /api/people",
        "PUT /api/people/:id",
        "DELETE /api/people/:id",
        "PUT /api/escalation-rules",
        "DELETE /api/failed-messages",
        "POST /api/channels",
        "PUT /api/channels/:id",
        "DELETE /api/channels/:id",
        "POST /api/channels/test",
        "POST /api/printers",
        "PUT /api/printers/:id",
        "DELETE /api/printers/:id",
        "PUT /api/runs/:id/date",
        "DELETE /api/runs/:id",
        "POST /api/runs/:id/restore",
        "DELETE /api/spools/:id",
        "POST /api/spools/:id/restore",
        "POST /api/record/backup",
        "POST /api/record/check",
        "POST /api/runs/import",
        "POST /api/recording",
        "POST /api/recording/start",
        "DELETE /api/recording",
        "PUT /api/settings",
        "POST /api/source/release",
        "POST /api/source/resume",
        "PUT /api/mapping",
        "GET /api/devices",
        "POST /api/invitations",
        "PUT /api/devices/:id",
        "DELETE /api/devices/:id",
        "POST /api/tokens",
        "PUT /api/tokens/:id",
        "DELETE /api/tokens/:id",
      ],
      "metrics": [
        "GET /metrics",
      ],
      "none": [
        "GET /api/answers/:token",
        "GET /api/answers/:token/picture",
        "POST /api/answers/:token",
        "GET /api/labels/:code",
        "GET /health",
        "GET /ready",
        "GET /api/pairing",
        "POST /api/devices",
        "GET /api/certificate",
        "GET /api/certificate/strandward-house.crt",
      ],
      "watch": [
        "GET /api/state",
        "GET /live",
        "GET /api/heat/expected",
        "GET /live/lines",
        "GET /api/lines",
        "GET /api/lines/:id/runs",
        "GET /api/lines/:id/stock",
        "GET /api/lines/:id/stock/fit",
        "GET /api/alarms",
        "GET /api/alarms/suppressed",
        "GET /api/alarm-types",
        "GET /api/runs/:id/alarm-journal",
        "GET /api/alarm-journal",
        "GET /api/alarm-journal/entries",
        "GET /api/runs/:id/alarm-load",
        "GET /api/people",
        "GET /api/printers",
        "GET /api/runs",
        "GET /api/runs/:id",
        "GET /api/runs/:id/related",
        "GET /api/runs/:id/window",
        "GET /api/lots",
        "GET /api/effects",
        "GET /api/nights",
        "GET /api/lines/:id/trends",
        "GET /api/trends",
        "GET /api/bin",
        "GET /api/spools",
        "GET /api/spools/:id",
        "GET /api/spools/:id/judgement",
        "GET /api/spools/:id/steadiness",
        "GET /api/spools/:id/spectrum",
        "GET /api/spools/:id/reel",
        "GET /api/spools/:id/cut-plan",
        "GET /api/spools/:id/cut-plan/csv",
        "GET /api/spools/:id/coils",
        "GET /api/spools/:id/print-fit",
        "GET /api/house",
        "GET /api/labels/:code/all",
        "GET /api/stock",
        "GET /api/stock/fit",
        "GET /api/stock/:code",
        "GET /api/promises",
        "GET /api/yields",
        "GET /api/runs/:id/summary",
        "GET /api/comparison",
        "GET /api/record",
        "GET /api/runs/:id/archive",
        "GET /api/recording",
        "GET /api/settings",
        "GET /api/serial-ports",
        "GET /api/log",
        "GET /api/incoming",
        "GET /api/me",
        "GET /api/spools/:id/export",
        "GET /api/runs/:id/export",
      ],
    }
  `);
});

describe('a right', () => {
  let service: TestService;
  const cookies: Partial<Record<Right, string>> = {};
  const tokens = {} as Record<Right, string>;
  beforeAll(async () => {
    service = await startTestService('simulator:steady');
    for (const right of RIGHTS) {
      if (right !== 'metrics') cookies[right] = await pairedAs(service, right, `${right} phone`);
      const added = await service.send('POST', '/api/tokens', { name: `${right} program`, right });
      tokens[right] = (added.body as { token: string }).token;
    }
  });
  afterAll(() => service.stop());

  // A name that cannot be read is refused by each handler before it does anything.
  const noop = { 'strandward-by': '%' };
  const may = (held: Right, needed: Right) => RIGHTS.indexOf(held) >= RIGHTS.indexOf(needed);

  it.each(table)('is checked for %s', async (key, { right: needed }) => {
    const { method, path } = partsOf(key);
    const address = path.replaceAll(/:(\w+)/g, '1');
    const stranger = await askAs(service, method, address, noop);
    if (needed === 'none') {
      expect(stranger.body.code).not.toMatch(/not-paired|right-missing/);
      return;
    }
    expect(stranger).toMatchObject({ status: 401, body: { code: 'not-paired' } });
    for (const held of RIGHTS) {
      const expected = may(held, needed) ? /^bad-(name|request)$/ : /^right-missing$/;
      const cookie = cookies[held];
      if (cookie !== undefined) {
        const byCookie = await askAs(service, method, address, { ...noop, ...pageOf(service, cookie) });
        expect({ held, code: byCookie.body.code }).toEqual({ held, code: expect.stringMatching(expected) });
      }
      const byToken = await askAs(service, method, address, { ...noop, authorization: `Bearer ${tokens[held]}` });
      expect({ held, code: byToken.body.code }).toEqual({ held, code: expect.stringMatching(expected) });
    }
  });

  it('is shown in the OpenAPI document', async () => {
    const { paths } = await service.get<{ paths: Record<string, Record<string, object>> }>('/openapi.json');
    for (const [key, { right }] of table) {
      const { method, path } = partsOf(key);
      expect(paths[path.replaceAll(/:(\w+)/g, '{$1}')]?.[method.toLowerCase()]).toMatchObject({
        'x-right': right,
        ...(right === 'none' ? { security: [] } : {}),
      });
    }
  });
});
