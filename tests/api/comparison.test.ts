import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { ComparisonView, MeasureView } from '../../server/api/contract/comparison.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { EffectsView } from '../../server/api/contract/nights.ts';
import type { Lot } from '../../server/entities/run.ts';
import type { Source } from '../../server/source/source.ts';
import type { MeasuredSection } from '../../server/strand/section.ts';
import { keepRun } from '../store/kept-run.ts';
import { startTestService, type TestService } from './test-service.ts';

const DAY_MS = 86_400_000;
const START_MS = 1_750_000_000_000;
const silent: Source = { title: 'no line', timing: 'live', resumable: false, start: () => {}, stop: async () => {} };

let service: TestService;
const lot = (preparation: string): Lot => ({ name: 'Moss supports', preparation, values: {} });
const comparisonOf = (groups: string, more = '') =>
  service.get<ComparisonView>(`/api/comparison?groups=${groups}${more}`);
const measure = (view: ComparisonView, key: MeasureView['key']) => view.measures.find((one) => one.key === key)!;

let damp: readonly number[];
let dry: readonly number[];
beforeAll(async () => {
  service = await startTestService(silent, { gaugeToWinderMm: 0 });
  damp = [0, 2, 4].map((day) =>
    keepRun(service.store, {
      startMs: START_MS + day * DAY_MS,
      lengthMm: 40_000,
      lot: lot('sorted, dried 4 h'),
      blobsEveryMm: 2000 + day * 20,
    }),
  );
  dry = [1, 3, 5].map((day) =>
    keepRun(service.store, {
      startMs: START_MS + day * DAY_MS,
      lengthMm: 40_000,
      lot: lot('dried 8 h, sorted'),
      blobsEveryMm: 9000 + day * 100,
      zone2C: 205,
    }),
  );
}, 60_000);
afterAll(() => service?.stop());

describe('the comparison of two runs', () => {
  it('shows what was prepared and set differently, and how the results differ', async () => {
    const view = await comparisonOf(`${damp[0]};${dry[0]}`);
    expect(view.differences).toEqual([
      { name: 'Drying time', values: ['4 h', '8 h'], from: 'user' },
      { name: 'Set-point of zone 2', values: ['195 °C', '205 °C'], from: 'line' },
    ]);
    expect(view.runs.map(({ blobsAndNecks: lumps }) => lumps)).toEqual([20, 4]);
    const { runs, comparisons } = measure(view, 'blobsAndNecks');
    expect(runs[0]!.value).toBeCloseTo(50, 0);
    expect(runs[1]!.interval!.lower).toBeLessThan(10);
    expect(runs[1]!.interval!.upper).toBeGreaterThan(10);
    // 20 against 4 in as much strand: 2·P(X ≤ 4 of 24 halves) = 2·12951/2²⁴, exactly; the measured lengths are not quite alike.
    expect(comparisons[0]).toMatchObject({ basis: 'counts', finding: 'differs' });
    expect(comparisons[0]!.p).toBeCloseTo((2 * 12_951) / 2 ** 24, 4);
    expect(view.conclusion.result).toContain('more than chance within these runs');
    expect(view.conclusion.limitations.join(' ')).toContain('one run of each does not show');
    expect(measure(view, 'heat').runs[0]!.value).toBeCloseTo(0.3, 1);
  });

  it('shows the same figures as the page of each spool', async () => {
    const view = await comparisonOf(`${damp[0]};${dry[0]}`);
    const spool = service.store.reader.spools(damp[0]!)[0]!;
    const { statistics, totals, woundMm } = await service.get<SpoolJudgement>(`/api/spools/${spool.id}/judgement`);
    expect(measure(view, 'mean').runs[0]!.value).toBeCloseTo(statistics!.meanMm, 4);
    expect(measure(view, 'sd').runs[0]!.value).toBeCloseTo(statistics!.sdMm!, 4);
    expect(measure(view, 'within').runs[0]!.value).toBeCloseTo(statistics!.tolerance.within, 5);
    expect(measure(view, 'discard').runs[0]!.value).toBeCloseTo(totals.discardMm / woundMm, 5);
    const share = statistics!.histogram.lengthsMm.map((mm) => mm / statistics!.measuredMm);
    expect(view.runs[0]!.histogram!.shares).toEqual(share.map((one) => expect.closeTo(one, 3)));
  });

  it('uses the same bins for all runs, whatever their gauge resolutions and tolerances', async () => {
    const [fine, coarse] = [
      { gaugeStepMm: 0.001, toleranceMm: 0.05 },
      { gaugeStepMm: 0.01, toleranceMm: 0.08 },
    ].map((more, i) =>
      keepRun(service.store, {
        startMs: START_MS + (10 + i) * DAY_MS,
        lengthMm: 8000,
        lot: null,
        blobsEveryMm: 4000,
        ...more,
      }),
    );
    const [a, b] = (await comparisonOf(`${fine};${coarse}`)).runs.map(({ histogram }) => histogram!);
    expect(a!.edgesMm).toEqual(b!.edgesMm);
    for (let i = 1; i < a!.edgesMm.length; i++) expect(a!.edgesMm[i]! - a!.edgesMm[i - 1]!).toBeCloseTo(0.01, 5);
    for (const { shares, outsideShare } of [a!, b!])
      expect(shares.reduce((sum, share) => sum + share, outsideShare)).toBeCloseTo(1, 3);
    // With a spread of 8 µm hardly any bin in between is empty, so there is no comb.
    const middle = b!.shares.slice(
      b!.shares.findIndex((s) => s > 0.001),
      b!.shares.findLastIndex((s) => s > 0.001),
    );
    expect(Math.min(...middle)).toBeGreaterThan(0.001);
  });

  it('judges them for the requested printer', async () => {
    const printer = { name: 'Heron', hotendLimitMm: 2.2, smallestFeedableMm: 1.2, toleranceMm: 0.35 };
    const { body } = await service.send('POST', '/api/printers', printer);
    const view = await comparisonOf(`${damp[0]};${dry[0]}`, `&printer=${(body as { id: number }).id}`);
    expect(view.limits!.toleranceMm).toBe(0.35);
    expect(view.runs.map(({ blobsAndNecks: lumps }) => lumps)).toEqual([0, 0]);
    expect(measure(view, 'within').runs.map(({ value }) => value)).toEqual([1, 1]);
  });
});

describe('groups of runs', () => {
  it('are compared with the run as the unit', async () => {
    const view = await comparisonOf(`${damp.join(',')};${dry.join(',')}`);
    expect(view.groups.map(({ name }) => name)).toEqual(['group A', 'group B']);
    expect(measure(view, 'blobsAndNecks').comparisons[0]).toMatchObject({ basis: 'runs', finding: 'differs' });
    expect(view.conclusion.result).toContain('That is more than chance.');
    expect(view.conclusion.limitations.join(' ')).toContain('2 things were different at once');
    expect(view.conclusion.limitations.join(' ')).not.toContain('came before');
  });

  it('are compared the second time without reading the readings again', async () => {
    const groups = `${damp.join(',')};${dry.join(',')}`;
    const first = await comparisonOf(groups);
    const { columns } = service.store;
    const asked: number[] = [];
    const { readings } = columns;
    columns.readings = (runId, ...more) => {
      asked.push(runId);
      return readings.call(columns, runId, ...more);
    };
    try {
      expect(await comparisonOf(groups)).toEqual(first);
      expect(asked).toEqual([]);
    } finally {
      columns.readings = readings;
    }
  });
});

describe('runs that cannot be compared', () => {
  it('are refused with an explanation', async () => {
    const thick = keepRun(service.store, {
      startMs: START_MS + 9 * DAY_MS,
      lengthMm: 3000,
      lot: null,
      blobsEveryMm: 1e9,
      nominalMm: 2.85,
    });
    const refused = async (groups: string) => (await service.send('GET', `/api/comparison?groups=${groups}`)).body;
    expect(await refused(`${damp[0]};${thick}`)).toMatchObject({
      status: 400,
      title: expect.stringContaining('2.85 mm'),
    });
    expect(await refused(`${damp[0]}`)).toMatchObject({ status: 400 });
    expect(await refused(`${damp[0]};${damp[0]}`)).toMatchObject({ title: 'A run is listed twice.' });
    expect(await refused(`${damp[0]};99`)).toMatchObject({ status: 404 });
    expect(await refused('x;y')).toMatchObject({ status: 400 });
    await service.send('DELETE', `/api/runs/${thick}`);
    expect(await refused(`${damp[0]};${thick}`)).toMatchObject({
      status: 404,
      title: `Run ${thick} was deleted and is in the bin.`,
      detail: expect.stringContaining('Leave it out, or restore it'),
      pointer: '/groups',
    });
  });
});

describe('a run whose single readings were deleted', () => {
  it('is still compared by its summaries', async () => {
    const old = keepRun(service.store, {
      startMs: START_MS - 9 * DAY_MS,
      lengthMm: 40_000,
      lot: null,
      blobsEveryMm: 1e9,
    });
    const whole = await comparisonOf(`${damp[0]};${old}`);
    const { maintenance } = service.store;
    const nowMs = START_MS + 99 * DAY_MS;
    // It is the oldest run, so its readings are deleted first.
    let step: ReturnType<typeof maintenance.thinStep>;
    do step = maintenance.thinStep(START_MS - DAY_MS, nowMs);
    while (step !== null);
    // Use another tolerance to avoid cached results.
    const printer = { name: 'Finch', hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.06 };
    const { body } = await service.send('POST', '/api/printers', printer);
    const view = await comparisonOf(`${damp[0]};${old}`, `&printer=${(body as { id: number }).id}`);
    expect(view.runs[1]!.thinned).toBe(true);
    expect(view.cautions.join(' ')).toContain(`Run ${old} no longer has its single readings`);
    expect(measure(view, 'mean').runs[1]!.value).toBeCloseTo(measure(whole, 'mean').runs[1]!.value!, 4);
    expect(measure(view, 'mean').runs[1]!.interval).not.toBeNull();
    expect(measure(view, 'blobsAndNecks').runs[1]!.interval!.upper).toBeCloseTo(3.689 / 0.4, 1);
    for (const key of ['within', 'sd', 'shortTerm'] as const) expect(measure(view, key).runs[1]!.value).toBeNull();
  });
});

describe('what all nights show together', () => {
  it('counts the values that the line sent and those that users confirmed', async () => {
    const effects = () => service.get<EffectsView>('/api/effects');
    const runIds = [...damp, ...dry];
    for (const id of runIds) {
      const count = damp.includes(id) ? 20 : 4;
      service.store.writer.saveMeasuredSections(id, blobs(count));
    }
    const sent = await effects();
    expect(sent).toMatchObject({ whyUnknown: null });
    expect(sent.outcomes.map(({ key }) => key)).toEqual(['blobs', 'good', 'spread']);
    expect(sent.outcomes[0]!.fields.map(({ key }) => key)).toEqual(['dieC']);
    await service.send('POST', '/api/lots', { runIds, confirm: true });
    const { outcomes, suggestion } = await effects();
    const { fields } = outcomes[0]!;
    expect(fields.map(({ key }) => key).toSorted()).toEqual(['dieC', 'dryingH']);
    // Both were always changed together, so the nights cannot tell them apart.
    for (const { sentence } of fields) expect(sentence).toContain('always changed together');
    expect(suggestion!.what).toContain('in turn');
  });
});

function blobs(count: number): MeasuredSection[] {
  return Array.from({ length: count }, (_, i) => ({
    ordinal: i + 1,
    kind: 'blob',
    fromMm: 1000 + i * 1900,
    toMm: 1020 + i * 1900,
    fromTimeMs: START_MS,
    toTimeMs: START_MS,
    peakMm: 2.05,
    peakAtMm: 1010 + i * 1900,
    volumeBeyondMm3: 5,
    certainty: 'sure',
    verdict: 'discard',
    open: false,
  }));
}
