import { parquetMetadata } from 'hyparquet';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { PrinterProfile } from '../../server/api/contract/printers.ts';
import type { SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import type { SpectrumView } from '../../server/api/contract/spool-analysis.ts';
import { type RunningService, startService, until } from '../service/running-service.ts';
import { rowsOf } from './parquet-reader.ts';

let service: RunningService;

/** The built service, where judging and exporting run on threads. */
beforeAll(async () => {
  service = await startService({ source: 'simulator:blobs-and-necks?seed=5&pace=200' });
  await until(
    () => service.send('GET', '/api/spools/1'),
    ({ status, body }) => status === 200 && (body as SpoolDetail).spool.woundMm > 8000,
    '8 m are wound',
    30_000,
  );
  expect((await service.send('POST', '/api/stage', { stage: 'stopped' })).status).toBeLessThan(300);
}, 60_000);
afterAll(() => service?.remove());

describe('the built service', () => {
  it('finds the same sections on a thread as live, for several printers at the same time', async () => {
    const { sections: live } = await service.get<SpoolDetail>('/api/spools/1');
    const printers = await Promise.all(
      [1.85, 1.88, 2.3].map(async (hotendLimitMm) => {
        const printer = { name: `Bore ${hotendLimitMm}`, hotendLimitMm, smallestFeedableMm: 1.3, toleranceMm: 0.05 };
        return (await service.send('POST', '/api/printers', printer)).body as PrinterProfile;
      }),
    );
    const judged = () => service.get<SpoolJudgement>('/api/spools/1/judgement');
    expect((await judged()).sections).toEqual(live);
    // Send all requests at the same time.
    const others = await Promise.all(
      printers.map(async ({ id }) => {
        await service.send('PUT', '/api/spools/1/choices', { printerId: id });
        return judged();
      }),
    );
    for (const { printer, sections } of others) {
      expect(printers).toContainEqual(printer);
      for (const s of sections.filter((s) => s.kind === 'blob' && s.certainty === 'sure'))
        expect(s.peakMm).toBeGreaterThan(printer!.hotendLimitMm);
    }
  });

  it('reports an error from that thread, and continues to answer', async () => {
    const wrong = await service.send('POST', '/api/spools/1/cuts', { action: 'keep', countedMm: 1e9 });
    expect(wrong).toMatchObject({ status: 400, body: { type: 'urn:strandward:problem:bad-cut' } });
    const { totals } = await service.get<CutPlanView>('/api/spools/1/cut-plan');
    expect(totals.keptMm + totals.discardedMm + totals.unknownMm).toBe(totals.woundMm);
    expect(
      (await service.get<SpectrumView>('/api/spools/1/spectrum?axis=time')).curve.frequency.length,
    ).toBeGreaterThan(9);
  });

  it('exports the readings on a thread, the same in each format', async () => {
    const { sampling, statistics } = await service.get<SpoolJudgement>('/api/spools/1/judgement');
    const read = async (format: string) =>
      (await fetch(`${service.address}/api/spools/1/export?format=${format}`)).arrayBuffer();
    const [csv, jsonl, file] = await Promise.all(['csv', 'jsonl', 'parquet'].map(read));
    expect(Buffer.from(csv!).toString().split('\r\n').length).toBe(sampling.readings + 2);
    expect(Buffer.from(jsonl!).toString().split('\n').length).toBe(sampling.readings + 1);
    expect(Number(parquetMetadata(file!).num_rows)).toBe(sampling.readings);
    const rows = await rowsOf(file!, { columns: ['d [mm]'] });
    expect(Math.max(...rows.map((row) => row['d [mm]'] as number))).toBe(statistics!.maxMm);
  });

  it('stops in order during an export', async () => {
    const controller = new AbortController();
    const reply = await fetch(`${service.address}/api/spools/1/export?format=parquet`, { signal: controller.signal });
    await reply.body!.getReader().read();
    controller.abort();
    await service.get('/api/printers');
    expect(await service.stop()).toBe(0);
  });
});
