import fc from 'fast-check';
import { afterAll, beforeAll, expect, it } from 'vitest';
import type { CoilDetail, CutPlanView, PrintFitView } from '../../server/api/contract/cut-plan.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { PrinterProfile } from '../../server/api/contract/printers.ts';
import type { RunDetail, RunView, SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import type { ReelView } from '../../server/api/contract/spool-analysis.ts';
import { seeded } from '../chance.ts';
import { tries } from '../long-check.ts';
import { type TestService, woundFromLines } from './test-service.ts';

/*
 * After any change to a spool, every route returns the same kept, discarded and unknown lengths and the same coils.
 */

const SPOOLS = 10;
const SPOOL_MM = 3000;
const SPEED_MM_PER_S = 50;
const READINGS_PER_S = 50;
const PITCH_MM = SPEED_MM_PER_S / READINGS_PER_S;

let service: TestService;
const printers: PrinterProfile[] = [];

/** Strand with blobs, thin spots, stretches out of tolerance and stretches without a diameter, at random places. */
function* lines(): Generator<string> {
  const random = seeded(20_261);
  const readings = (SPOOLS * SPOOL_MM) / PITCH_MM;
  let until = 0;
  let offMm: number | null = 0;
  for (let n = 0; n < readings; n++) {
    if (n >= until) {
      const kind = random();
      const calm: boolean = offMm !== 0;
      offMm = calm
        ? 0
        : kind < 0.3
          ? 0.13 + 0.1 * random()
          : kind < 0.5
            ? -0.17
            : kind < 0.8
              ? 0.07
              : kind < 0.9
                ? null
                : 0;
      until = n + (calm ? 300 + Math.floor(1500 * random()) : 5 + Math.floor(120 * random()));
    }
    const d = offMm === null ? 'nan' : (1.75 + offMm + 0.004 * (random() - 0.5)).toFixed(4);
    yield `ms=${n * (1000 / READINGS_PER_S)} n=${n} d=${d} v=${SPEED_MM_PER_S}`;
  }
}

beforeAll(async () => {
  service = await woundFromLines(lines(), { shortestCoilMm: 300 });
  for (let ordinal = 1; ordinal < SPOOLS; ordinal++) {
    const { spool } = await service.get<SpoolDetail>(`/api/spools/${ordinal}`);
    const atGaugeMm = spool.startGaugeMm + SPOOL_MM * (0.8 + 0.04 * ordinal);
    const { status } = await service.send('POST', `/api/spools/${ordinal}/split`, { atGaugeMm });
    expect(status).toBe(201);
  }
  service.monitor.setStage('stopped', 'test');
  for (const [name, hotendLimitMm, toleranceMm] of [
    ['Wide', 1.95, 0.08],
    ['Narrow', 1.84, 0.03],
  ] as const) {
    const printer = { name, hotendLimitMm, smallestFeedableMm: 1.62, toleranceMm };
    printers.push((await service.send('POST', '/api/printers', printer)).body as PrinterProfile);
  }
}, 60_000);
afterAll(() => service?.stop());

const share = fc.double({ min: 0, max: 1, noNaN: true });
const change = fc.oneof(
  fc.record({
    what: fc.constant('limits' as const),
    hotendLimitMm: fc.constantFrom(1.86, 1.9, 1.93),
    toleranceMm: fc.constantFrom(0.04, 0.05, 0.06),
  }),
  fc.record({
    what: fc.constant('choices' as const),
    printer: fc.constantFrom(0, 1, 2),
    objective: fc.constantFrom('mostLength', 'fewestCuts'),
    shortestMm: fc.constantFrom(null, 150, 500),
    doubtful: fc.constantFrom('keep', 'cut'),
    unknown: fc.constantFrom('keep', 'cut'),
  }),
  fc.record({ what: fc.constant('start' as const), laterMm: fc.integer({ min: -40, max: 200 }) }),
  fc.record({ what: fc.constant('tape' as const), factor: fc.constantFrom(null, 0.985, 1.012) }),
  fc.record({
    what: fc.constant('mark' as const),
    at: share,
    long: fc.integer({ min: 5, max: 400 }),
    verdict: fc.constantFrom('good', 'doubtful', 'discard'),
  }),
  fc.record({
    what: fc.constant('adjust' as const),
    which: share,
    by: fc.integer({ min: -30, max: 30 }),
    verdict: fc.constantFrom('good', 'doubtful', 'discard'),
  }),
  fc.record({ what: fc.constant('remove' as const), which: share }),
  fc.record({ what: fc.constant('cut' as const), off: fc.integer({ min: -25, max: 25 }), seen: fc.boolean() }),
  fc.record({ what: fc.constant('takeBack' as const) }),
  fc.record({ what: fc.constant('name' as const), which: share, name: fc.constantFrom('', 'Blue end', 'Best') }),
);
type Change = typeof change extends fc.Arbitrary<infer T> ? T : never;

/** Allowed statuses of a refused change. */
const REFUSALS = [400, 404, 409, 422];

const made = new Map<Change['what'], number>();

async function apply(id: number, one: Change): Promise<void> {
  const send = async (method: string, path: string, body?: unknown) => {
    const { status, body: answer } = await service.send(method, path, body);
    if (status < 300) made.set(one.what, (made.get(one.what) ?? 0) + 1);
    expect(status < 300 || REFUSALS.includes(status), `${method} ${path}: ${status} ${JSON.stringify(answer)}`).toBe(
      true,
    );
  };
  const base = `/api/spools/${id}`;
  const { spool, sections } = await service.get<SpoolDetail>(base);
  const chosen = 'which' in one ? sections[Math.floor(one.which * sections.length)] : undefined;
  switch (one.what) {
    case 'limits': {
      const { settings } = await service.get<{ settings: object }>('/api/settings');
      return send('PUT', '/api/settings', {
        ...settings,
        hotendLimitMm: one.hotendLimitMm,
        toleranceMm: one.toleranceMm,
      });
    }
    case 'choices': {
      const { objective, shortestMm, doubtful, unknown } = one;
      const printerId = one.printer === 0 ? 0 : printers[one.printer - 1]!.id;
      return send('PUT', `${base}/choices`, { printerId, objective, shortestMm, doubtful, unknown });
    }
    case 'start':
      // It ends where the next spool was split off, so neither can be moved.
      for (const worked of [id - 1, id]) if (worked > 0) await putBack(worked);
      return send('POST', `${base}/start`, { startGaugeMm: spool.startGaugeMm + one.laterMm });
    case 'tape':
      return one.factor === null
        ? send('DELETE', `${base}/length-correction`)
        : send('PUT', `${base}/length-correction`, {
            measuredMm: 2000 * one.factor,
            indicatedMm: 2000,
            uncertaintyMm: 4,
          });
    case 'mark': {
      const fromSpoolMm = one.at * Math.max(0, spool.woundMm - one.long);
      return send('POST', `${base}/sections`, { fromSpoolMm, toSpoolMm: fromSpoolMm + one.long, verdict: one.verdict });
    }
    case 'adjust': {
      if (chosen === undefined) return;
      const fromSpoolMm = Math.max(0, chosen.fromSpoolMm! + one.by);
      const toSpoolMm = Math.min(spool.woundMm, Math.max(fromSpoolMm + 1, chosen.toSpoolMm! + one.by));
      return send('PUT', `${base}/sections/${chosen.id}`, { fromSpoolMm, toSpoolMm, verdict: one.verdict });
    }
    case 'remove':
      return chosen === undefined ? undefined : send('DELETE', `${base}/sections/${chosen.id}`);
    case 'cut': {
      const step = (await service.get<CutPlanView>(`${base}/cut-plan`)).steps[0];
      if (step === undefined) return;
      const countedMm = Math.max(0, step.countedMm + one.off);
      const landmark = step.landmarks.at(-1);
      const seen =
        one.seen && landmark !== undefined ? { landmarkCountedMm: Math.min(countedMm, landmark.afterCutMm) } : {};
      return send('POST', `${base}/cuts`, {
        action: step.action === 'discard' ? 'discard' : 'keep',
        countedMm,
        ...seen,
      });
    }
    case 'takeBack':
      return send('DELETE', `${base}/cuts/last`);
    case 'name': {
      const { coils } = await service.get<CutPlanView>(`${base}/cut-plan`);
      const coil = coils[Math.floor(one.which * coils.length)];
      return coil === undefined ? undefined : send('PUT', `${base}/coils/${coil.ordinal}`, { name: one.name });
    }
  }
}

/** Undoes cuts, names and the tape measurement of a spool. */
async function putBack(id: number): Promise<void> {
  const base = `/api/spools/${id}`;
  const { done } = await service.get<CutPlanView>(`${base}/cut-plan`);
  for (const _ of done) await service.send('DELETE', `${base}/cuts/last`);
  await service.send('DELETE', `${base}/length-correction`);
  for (const { ordinal, named } of (await service.get<CutPlanView>(`${base}/cut-plan`)).coils)
    if (named) await service.send('PUT', `${base}/coils/${ordinal}`, { name: '' });
}

/** The lengths that a route returns, in a common form. */
async function answers(id: number) {
  const base = `/api/spools/${id}`;
  const [{ spool, sections }, judgement, plan, coils, reel, fit] = await Promise.all([
    service.get<SpoolDetail>(base),
    service.get<SpoolJudgement>(`${base}/judgement`),
    service.get<CutPlanView>(`${base}/cut-plan`),
    service.get<CoilDetail[]>(`${base}/coils`),
    service.get<ReelView>(`${base}/reel`),
    service.get<PrintFitView>(`${base}/print-fit?metres=0.1`),
  ]);
  return { spool, sections, judgement, plan, coils, reel, fit };
}

it('gives the same answer about a spool on every route, whatever was changed', { timeout: 300_000 }, async () => {
  let cutsSeen = 0;
  let shownOnly = 0;
  await fc.assert(
    fc.asyncProperty(
      fc.integer({ min: 1, max: SPOOLS }),
      fc.array(change, { minLength: 1, maxLength: 4 }),
      async (id, changes) => {
        for (const one of changes) await apply(id, one);
        const { spool, sections, judgement, plan, coils, reel, fit } = await answers(id);
        const { totals, verdict } = judgement;
        expect(judgement.sections).toEqual(sections);
        expect(reel.sections.map((one) => [one.id, one.kind, one.verdict])).toEqual(
          sections.map((one) => [one.id, one.kind, one.verdict]),
        );
        expect([judgement.woundMm, reel.woundMm]).toEqual([spool.woundMm, spool.woundMm]);
        expect([totals.discardMm, totals.doubtfulMm, totals.unknownMm]).toEqual([
          spool.discardMm,
          spool.doubtfulMm,
          spool.unknownMm,
        ]);
        const whole = plan.coils.filter(({ condition }) => condition !== 'spoilt');
        expect(spool.kept).toEqual({
          keptMm: plan.totals.keptMm,
          coils: whole.length,
          longestCoilMm: Math.max(0, ...whole.map(({ lengthMm }) => lengthMm)),
        });
        expect(coils.map(({ coil }) => coil)).toEqual(plan.coils);
        expect({ ...verdict, reasons: [] }).toEqual({ ...spool.verdict, reasons: [] });
        if (verdict!.afterCutting !== null)
          expect(verdict!.afterCutting).toEqual({ ...spool.kept, cuts: plan.totals.cuts });
        expect([plan.fitness, fit.fitness]).toEqual([verdict!.fitness, verdict!.fitness]);
        const offered = plan.coils.filter(({ condition }) => condition === 'clean').map(({ name }) => name);
        expect(fit.longEnough.every((name) => offered.includes(name))).toBe(true);
        expect(plan.totals.keptMm + plan.totals.discardedMm + plan.totals.unknownMm).toBe(plan.totals.woundMm);
        expect(spool.cutOffMm).toBe(
          Math.min(spool.woundMm, Math.max(0, ...plan.done.map(({ toOuterMm }) => toOuterMm))),
        );
        cutsSeen += plan.done.length;
        shownOnly += sections.filter((one) => one.id.startsWith('j')).length;

        // The run is judged by the limits in force while it was made, and its responses agree.
        const report = await service.get<RunDetail>('/api/runs/1');
        const listed = (await service.get<RunView[]>('/api/runs')).find((run) => run.id === 1);
        expect(listed).toEqual(report.run);
        const night = await service.get<SpoolJudgement>(`/api/spools/${id}/judgement?by=run`);
        const reported = report.spools.find((one) => one.id === id)!;
        expect(reported.judgedBy).toBe('run');
        expect(night.sections).toEqual(
          report.sections.filter((one) => one.spoolId === id).map((one) => ({ ...one, reachesWinderInS: null })),
        );
        expect([night.totals.discardMm, night.totals.unknownMm]).toEqual([reported.discardMm, reported.unknownMm]);
        expect(report.run.keptMm).toBe(report.spools.reduce((sum, one) => sum + (one.kept?.keptMm ?? 0), 0));
      },
    ),
    { numRuns: tries(400, 1 / 20), seed: 4711 },
  );
  // The property would be meaningless if these cases never occurred.
  for (const what of [
    'limits',
    'choices',
    'start',
    'tape',
    'mark',
    'adjust',
    'remove',
    'cut',
    'takeBack',
    'name',
  ] as const)
    expect(made.get(what) ?? 0, what).toBeGreaterThan(0);
  expect(cutsSeen).toBeGreaterThan(10);
  expect(shownOnly).toBeGreaterThan(5);
});
