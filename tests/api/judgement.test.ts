import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { CutPlanView, PrintFitView } from '../../server/api/contract/cut-plan.ts';
import type { SpoolJudgement, SteadinessView } from '../../server/api/contract/judgement.ts';
import type { PrinterProfile } from '../../server/api/contract/printers.ts';
import type { RunDetail, SectionView, SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import type { ReelView } from '../../server/api/contract/spool-analysis.ts';
import { type TestService, woundBySimulator, woundFromLines } from './test-service.ts';

let service: TestService;
const judgement = () => service.get<SpoolJudgement>('/api/spools/1/judgement');
const judgedFor = async (printer: Pick<PrinterProfile, 'id'>): Promise<SpoolJudgement> => {
  const { status } = await service.send('PUT', '/api/spools/1/choices', { printerId: printer.id });
  expect(status).toBe(200);
  return judgement();
};
const LINE = { id: 0 };
const addPrinter = async (name: string, limits: Partial<PrinterProfile>): Promise<PrinterProfile> => {
  const printer = { name, hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05, ...limits };
  const { status, body } = await service.send('POST', '/api/printers', printer);
  expect(status).toBe(201);
  return body as PrinterProfile;
};

beforeAll(async () => {
  service = await woundBySimulator('blobs-and-necks?seed=7', 30_000);
}, 60_000);
afterAll(() => service?.stop());

/** The stored readings of the spool, straight from the store. */
async function readings() {
  const { startGaugeMm, endGaugeMm, runId } = service.store.reader.spool(1)!;
  const columns = await service.store.columns.readings(runId, startGaugeMm, endGaugeMm!, ['d']);
  return { at: columns.gaugeMm, d: columns.values.d! };
}

/** Mean of a quantity along the strand: each step between two readings with the mean of its two ends. */
function alongLength(at: Float64Array, of: (i: number) => number): { mean: number; length: number } {
  let sum = 0;
  let length = 0;
  for (let i = 1; i < at.length; i++) {
    const step = at[i]! - at[i - 1]!;
    sum += (step * (of(i) + of(i - 1))) / 2;
    length += step;
  }
  return { mean: sum / length, length };
}

it('counts for a run only blobs that are certainly too thick and to be discarded', async () => {
  const run = await woundFromLines(
    (function* () {
      // One blob that is surely beyond the limit, and one that the gauge cannot tell from it.
      for (let mm = 0; mm <= 12_000; mm++) {
        const d = mm > 3000 && mm < 3030 ? 2.1 : mm > 6000 && mm < 6030 ? 1.902 : 1.75 + 0.003 * Math.sin(mm * 12.9898);
        yield `ms=${mm * 50} n=${mm} d=${d.toFixed(4)} v=20 len=${mm}`;
      }
    })(),
    { hotendLimitMm: 1.9, gaugeToWinderMm: 0 },
  );
  try {
    const verdict = async () => (await run.get<RunDetail>('/api/runs/1')).run.verdict;
    const { sections } = await run.get<SpoolDetail>('/api/spools/1');
    const blobs = sections.filter(({ kind }) => kind === 'blob');
    expect(blobs.map((one) => one.verdict)).toEqual(['discard', 'doubtful']);
    expect((await verdict()).reason).toMatch(/^1 blob and 1 possible blob\b/);
    const { id, fromSpoolMm, toSpoolMm } = blobs[0]!;
    const mark = { fromSpoolMm: 8000, toSpoolMm: 8100, verdict: 'discard', note: '' };
    expect((await run.send('POST', '/api/spools/1/sections', mark)).status).toBe(201);
    const good = { fromSpoolMm, toSpoolMm, verdict: 'good', note: '' };
    expect((await run.send('PUT', `/api/spools/1/sections/${id}`, good)).status).toBe(200);
    expect((await verdict()).reason).toMatch(/^1 possible blob and 1 other bad stretch\b/);
  } finally {
    await run.stop();
  }
}, 60_000);

describe('the judgement of a stored spool', () => {
  it('has the sections found while winding, if no limit changed', async () => {
    const { sections: live } = await service.get<SpoolDetail>('/api/spools/1');
    const { sections: judgedAgain } = await judgement();
    expect(live.filter((s) => s.kind === 'blob').length).toBe(4);
    expect(judgedAgain).toEqual(live);
    const found = service.store.reader.measuredSections(1).filter(({ kind }) => kind === 'blob');
    expect(judgedAgain.filter((s) => s.kind === 'blob').map((s) => s.id)).toEqual(
      found.map(({ ordinal }) => `m${ordinal}`),
    );
  });

  it('returns the same answer again', async () => {
    expect(await judgement()).toEqual(await judgement());
  });

  it('adds up: good, doubtful, unknown and discard make the wound length', async () => {
    const { totals, woundMm, sections } = await judgement();
    const sum = totals.goodMm + totals.doubtfulMm + totals.unknownMm + totals.discardMm;
    expect(Math.abs(sum - woundMm)).toBeLessThan(0.3);
    for (const s of sections) {
      expect(Math.abs(s.fromSpoolMm! + s.toOuterMm! - woundMm)).toBeLessThan(0.2);
      expect(Math.abs(s.toSpoolMm! + s.fromOuterMm! - woundMm)).toBeLessThan(0.2);
    }
  });

  it('computes mean, spread and flow error by length as a calculation by hand does', async () => {
    const { at, d } = await readings();
    const { statistics, flow, sampling, mass } = await judgement();
    const { mean, length } = alongLength(at, (i) => d[i]!);
    const variance = alongLength(at, (i) => (d[i]! - mean) ** 2).mean;
    const flowMean = alongLength(at, (i) => (d[i]! / 1.75) ** 2 - 1).mean;
    expect(sampling.readings).toBe(d.length);
    expect(statistics!.meanMm).toBeCloseTo(mean, 4);
    expect(statistics!.sdMm!).toBeCloseTo(Math.sqrt(variance), 4);
    expect(statistics!.maxMm).toBe(Math.max(...d));
    expect(flow!.mean).toBeCloseTo(flowMean, 3);
    expect(flow!.flowMultiplier).toBeCloseTo(1 / (1 + flowMean), 3);
    // ρ·π/4·d²·L, with 1 cm³ = 1000 mm³.
    const meanSquare = alongLength(at, (i) => d[i]! ** 2).mean;
    expect(Math.abs(mass.grams / ((1.24 / 1000) * (Math.PI / 4) * meanSquare * length) - 1)).toBeLessThan(1e-3);
    const binned = statistics!.histogram.lengthsMm.reduce((a, b) => a + b, 0);
    const all = binned + statistics!.histogram.belowMm + statistics!.histogram.aboveMm;
    expect(Math.abs(all - statistics!.measuredMm)).toBeLessThan(5);
  });

  it('tells whether the strand was steady, from at most 100 means about the mean of the spool', async () => {
    const chart = await service.get<SteadinessView>('/api/spools/1/steadiness');
    const { meanMm, atMm, sumMm, targetMm, stepMm } = chart;
    expect(atMm.length).toBeLessThanOrEqual(100);
    expect([meanMm.length, sumMm.length]).toEqual([atMm.length, atMm.length]);
    expect(targetMm).toBeCloseTo(meanMm.reduce((a, b) => a + b) / meanMm.length, 4);
    expect(sumMm[1]).toBeCloseTo(meanMm[0]! + meanMm[1]! - 2 * targetMm, 4);
    const { at, d } = await readings();
    const inside = d.filter((_, i) => Math.abs(at[i]! - atMm[9]!) <= stepMm / 2);
    expect(meanMm[9]).toBeCloseTo(inside.reduce((a, b) => a + b) / inside.length, 2);
    expect(['steady', 'step', 'creep', 'unknown']).toContain(chart.finding);
  });

  it('finds more for a tight printer, less for a wide one, and only what is beyond its limits', async () => {
    const tight = await addPrinter('Tight', { hotendLimitMm: 1.81, smallestFeedableMm: 1.69 });
    const wide = await addPrinter('Wide', { hotendLimitMm: 2.4, smallestFeedableMm: 1.2 });
    const jams = (judged: SpoolJudgement) => judged.sections.filter((s) => s.kind === 'blob' || s.kind === 'neck');
    const own = jams(await judgement());
    const narrow = jams(await judgedFor(tight));
    const broad = await judgedFor(wide);
    await judgedFor(LINE);
    expect(narrow.length).toBeGreaterThanOrEqual(own.length);
    for (const s of narrow.filter((s) => s.certainty === 'sure')) {
      if (s.kind === 'blob') expect(s.peakMm).toBeGreaterThan(1.81);
      else expect(s.peakMm).toBeLessThan(1.69);
    }
    const lengths = (sections: readonly SectionView[]) =>
      sections.reduce((sum, s) => sum + s.toSpoolMm! - s.fromSpoolMm!, 0);
    expect(lengths(narrow)).toBeGreaterThan(lengths(own));
    expect(jams(broad)).toEqual([]);
    expect(broad.totals.discardMm).toBe(0);
    expect(broad.verdict!.fitness).not.toBe('notFit');
    expect(broad.jam.asWound).toMatchObject({ tooThick: 0, firstTooThickAtMm: null });
  });

  it('keeps statements of users by place when the limits change', async () => {
    const tight = await addPrinter('Strict', { hotendLimitMm: 1.82, smallestFeedableMm: 1.68 });
    const { sections } = await judgement();
    const [first, second] = sections.filter((s) => s.kind === 'blob');
    await service.send('DELETE', `/api/spools/1/sections/${first!.id}`);
    const { kind, peakMm, fromSpoolMm, toSpoolMm } = first!;
    const shown = async () => (await service.get<SpoolDetail>('/api/spools/1')).dismissed;
    const dismissed = [
      { spoolId: 1, id: first!.id, kind, peakMm, fromSpoolMm, toSpoolMm, who: expect.stringMatching(/./), reason: '' },
    ];
    expect(await shown()).toEqual(dismissed);
    // The reason can be given with the dismissal, or later.
    const path = `/api/spools/1/sections/${first!.id}`;
    await service.send('PUT', `${path}/dismissal`, { reason: ' dust on the lens ' });
    expect(await shown()).toEqual([{ ...dismissed[0], reason: 'dust on the lens' }]);
    await service.send('POST', `${path}/restore`);
    await service.send('PUT', `${path}/dismissal`, { reason: '' });
    expect(await shown()).toEqual(dismissed);
    expect((await service.send('PUT', '/api/spools/1/sections/m999/dismissal', { reason: 'x' })).status).toBe(404);
    // The report of the run lists them too.
    expect((await service.get<RunDetail>('/api/runs/1')).dismissed).toEqual(dismissed);
    await service.send('POST', `/api/spools/1/sections/${first!.id}/restore`);
    expect(await shown()).toEqual([]);
    await service.send('DELETE', `/api/spools/1/sections/${first!.id}`);
    await service.send('PUT', `/api/spools/1/sections/${second!.id}`, {
      fromSpoolMm: second!.fromSpoolMm,
      toSpoolMm: second!.toSpoolMm,
      verdict: 'good',
      note: 'filed smooth',
    });
    for (const printer of [LINE, tight]) {
      const { sections: judgedAgain } = await judgedFor(printer);
      const blobs = judgedAgain.filter((s) => s.kind === 'blob');
      expect(blobs.find((s) => s.id === first!.id)).toBeUndefined();
      expect(blobs.some((s) => s.peakSpoolMm === first!.peakSpoolMm)).toBe(false);
      const filed = judgedAgain.find((s) => s.id === second!.id)!;
      expect([filed.verdict, filed.note, filed.origin]).toEqual(['good', 'filed smooth', 'adjusted']);
      expect(filed.peakSpoolMm).toBe(second!.peakSpoolMm);
    }
    // The statement still applies under limits that find nothing there.
    const wide = await addPrinter('Very wide', { hotendLimitMm: 2.4, smallestFeedableMm: 1.2 });
    const { sections: few } = await judgedFor(wide);
    expect(few.find((s) => s.id === second!.id)?.note).toBe('filed smooth');
    await judgedFor(LINE);
    for (const section of [first, second]) await service.send('POST', `/api/spools/1/sections/${section!.id}/restore`);
  });

  it('scales every position by a tape measurement with its uncertainty, and can undo that', async () => {
    const before = await judgement();
    const put = await service.send('PUT', '/api/spools/1/length-correction', {
      measuredMm: 10_100,
      indicatedMm: 10_000,
      uncertaintyMm: 20.2,
    });
    expect(put).toMatchObject({ status: 200, body: { factor: 1.01, share: 0.002 } });
    const after = await judgement();
    expect(after.woundMm).toBeCloseTo(before.woundMm * 1.01, 0);
    expect(after.woundUncertaintyMm).toBeCloseTo(after.woundMm * 0.002, 0);
    expect(after.mass.grams / before.mass.grams).toBeCloseTo(1.01, 3);
    after.sections.forEach((section, i) => {
      expect(Math.abs(section.fromSpoolMm! - before.sections[i]!.fromSpoolMm! * 1.01)).toBeLessThan(0.2);
      expect(section.fromGaugeMm).toBe(before.sections[i]!.fromGaugeMm);
    });
    const plan = await service.get<CutPlanView>('/api/spools/1/cut-plan');
    expect(plan.countError.lengthScaleShare).toBe(0.002);
    expect(plan.totals.woundMm).toBe(Math.round(before.woundMm * 1.01));
    await service.send('DELETE', '/api/spools/1/length-correction');
    expect((await judgement()).woundMm).toBe(before.woundMm);
  });

  it('replaces every mass of the spool by what a scale shows, with its uncertainty, and can undo that', async () => {
    const coils = async () => (await service.get<CutPlanView>('/api/spools/1/cut-plan')).coils;
    const [before, coilsBefore] = [await judgement(), await coils()];
    const netG = before.mass.grams * 1.05;
    const put = await service.send('PUT', '/api/spools/1/weighing', {
      grossG: 180 + netG,
      tareG: 180,
      uncertaintyG: 1,
    });
    expect(put).toMatchObject({ status: 200, body: { tareG: 180, uncertaintyG: 1 } });
    const after = await judgement();
    expect(after.mass.grams).toBeCloseTo(netG, 2);
    expect(after.mass.gramsUncertainty).toBeCloseTo(1, 2);
    expect(after.mass.densityGPerCm3).toBeCloseTo(1.05 * before.mass.densityGPerCm3, 3);
    expect((await service.get<ReelView>('/api/spools/1/reel')).woundGrams).toBeCloseTo(netG, 1);
    for (const [i, coil] of (await coils()).entries()) {
      expect(coil.grams! / coilsBefore[i]!.grams!).toBeCloseTo(1.05, 3);
      // A part of the spool is as exact as the whole.
      expect(coil.gramsUncertainty! / coil.grams!).toBeCloseTo(1 / netG, 3);
    }
    // Lengths stay, also that of a print given in grams, which the slicer computes from the density in the settings.
    const printMm = async () => (await service.get<PrintFitView>('/api/spools/1/print-fit?grams=10')).needMm;
    const needed = await printMm();
    expect(needed).toBeGreaterThan(3000);
    expect(after.woundMm).toBe(before.woundMm);
    await service.send('DELETE', '/api/spools/1/weighing');
    expect((await judgement()).mass).toEqual(before.mass);
    expect(await printMm()).toBe(needed);
  });

  it.each([
    ['not heavier than the empty spool', { grossG: 180, tareG: 180, uncertaintyG: 1 }, /180 g with its strand/],
    ['in kilograms', { grossG: 0.3, tareG: 0.18, uncertaintyG: 0.001 }, /no plastic has/],
    ['less sure than a guess', { grossG: 300, tareG: 180, uncertaintyG: 40 }, /too large/],
  ])('refuses a mass that is %s', async (_what, weighing, why) => {
    const reply = await service.send('PUT', '/api/spools/1/weighing', weighing);
    expect(reply).toMatchObject({ status: 400, body: { code: 'bad-length', title: expect.stringMatching(why) } });
    expect((await judgement()).mass.weighed).toBeNull();
  });

  it('refuses to weigh a spool from which strand has been cut', async () => {
    await service.send('POST', '/api/spools/1/cuts', { action: 'discard', countedMm: 500 });
    const reply = await service.send('PUT', '/api/spools/1/weighing', { grossG: 300, tareG: 180, uncertaintyG: 1 });
    expect(reply).toMatchObject({ status: 409, body: { code: 'wrong-state' } });
    await service.send('DELETE', '/api/spools/1/cuts/last');
  });

  it('uses the measured lengths in every response, and places a mark by them', async () => {
    const runBefore = await service.get<RunDetail>('/api/runs/1');
    const tape = { measuredMm: 10_200, indicatedMm: 10_000, uncertaintyMm: 10 };
    await service.send('PUT', '/api/spools/1/length-correction', tape);
    const judged = await judgement();
    const { spool, sections, run } = await service.get<SpoolDetail>('/api/spools/1');
    expect(spool.lengthFactor).toBe(1.02);
    expect(spool.woundMm).toBe(judged.woundMm);
    expect(spool.discardMm).toBe(judged.totals.discardMm);
    const { cuts: _cuts, ...kept } = judged.verdict!.afterCutting!;
    expect(spool.kept).toEqual(kept);
    expect(judged.sections).toEqual(sections);
    expect(run.woundMm / runBefore.run.woundMm).toBeCloseTo(1.02, 4);
    expect(run.woundMm).toBeCloseTo(judged.woundMm, 1);
    expect(run.keptMm).toBeCloseTo(judged.verdict!.afterCutting!.keptMm, 1);

    const mark = { fromSpoolMm: 10_200, toSpoolMm: 10_710, verdict: 'discard', note: 'by hand' };
    const { body } = await service.send('POST', '/api/spools/1/sections', mark);
    expect(body).toMatchObject({ fromSpoolMm: 10_200, toSpoolMm: 10_710 });
    const { fromGaugeMm, toGaugeMm, id } = body as { fromGaugeMm: number; toGaugeMm: number; id: string };
    expect(fromGaugeMm - spool.startGaugeMm).toBeCloseTo(10_000, 0);
    expect(toGaugeMm - fromGaugeMm).toBeCloseTo(500, 0);
    await service.send('DELETE', `/api/spools/1/sections/${id}`);
    await service.send('DELETE', '/api/spools/1/length-correction');
    expect((await service.get<SpoolDetail>('/api/spools/1')).spool.woundMm).toBe(runBefore.spools[0]!.woundMm);
  });

  it('places layer and turn as counting single turns does', async () => {
    const reel = await service.get<ReelView>('/api/spools/1/reel?at=20000');
    const { coreDiameterMm, widthMm, pitchMm } = reel.shape;
    const perLayer = Math.floor(widthMm / pitchMm);
    let suppression = 20_000;
    let turns = 0;
    // A turn of layer k is π(core + (2k − 1)·d) long: the turns are laid one after another until the strand is used up.
    for (;;) {
      const layer = Math.floor(turns / perLayer) + 1;
      const turnMm = Math.PI * (coreDiameterMm + (2 * layer - 1) * reel.shape.strandMm);
      if (suppression <= turnMm) break;
      suppression -= turnMm;
      turns += 1;
    }
    expect(reel.turnsPerLayer).toBe(perLayer);
    expect(reel.at!.layer).toBe(Math.floor(turns / perLayer) + 1);
    // Turns were not counted: they may nest, and the length may be off, so a range of layers is given and no turn.
    expect(reel.at).toMatchObject({ turnInLayer: null, turns: expect.closeTo(turns, 0) });
    expect(reel.at!.layerLeast).toBeLessThanOrEqual(reel.at!.layer);
    expect(reel.at!.layerMost).toBeGreaterThanOrEqual(reel.at!.layer);
    expect(reel.layersMost).toBeGreaterThan(reel.layersLeast);
    expect(reel.remainingMm).toBe(reel.capacityMm - Math.round(reel.woundMm));
    for (const section of reel.sections) {
      expect(section.path.length).toBe(section.to.layer - section.from.layer + 1);
      for (const bar of section.path) {
        expect(bar.acrossMm).toBeGreaterThan(0);
        expect(bar.toAcrossMm).toBeLessThan(widthMm);
      }
    }
  });
});

describe('an invalid request is refused:', () => {
  it.each([
    ['no such spool', '/api/spools/99/judgement', 404, 'unknown-spool'],
    ['a print of no length', '/api/spools/1/judgement?printMetres=0', 400, 'bad-request'],
    ['a place behind the end', '/api/spools/1/reel?at=1e9', 400, 'bad-place'],
    ['a place before the beginning', '/api/spools/1/reel?at=-1', 400, 'bad-place'],
    ['an axis that is none', '/api/spools/1/spectrum?axis=width', 400, 'bad-request'],
    ['a format that is none', '/api/spools/1/export?format=xml', 400, 'bad-request'],
  ])('%s', async (_what, path, status, code) => {
    const reply = await service.send('GET', path);
    expect(reply).toMatchObject({ status, body: { type: `urn:strandward:problem:${code}` } });
  });

  it.each([
    ['a printer that is not there', { printerId: 99 }, 404, 'unknown-printer'],
    ['a shortest coil of nothing', { shortestMm: 0 }, 400, 'bad-choice'],
    ['a negative shortest coil', { shortestMm: -100 }, 400, 'bad-choice'],
    ['an aim that is none', { objective: 'everything' }, 400, 'bad-request'],
    ['a choice that is none', { knife: 'sharp' }, 400, 'bad-request'],
  ])('to choose %s', async (_what, choice, status, code) => {
    const before = (await service.get<SpoolDetail>('/api/spools/1')).spool.choices;
    const reply = await service.send('PUT', '/api/spools/1/choices', choice);
    expect(reply).toMatchObject({ status, body: { type: `urn:strandward:problem:${code}` } });
    expect((await service.get<SpoolDetail>('/api/spools/1')).spool.choices).toEqual(before);
  });

  it.each([
    [
      'limits in the wrong order',
      { hotendLimitMm: 1.7, smallestFeedableMm: 1.8, toleranceMm: 0.05 },
      400,
      'hotend limit',
    ],
    ['a tolerance of nothing', { hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0 }, 400, 'tolerance'],
    ['a band of no width', { hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 5e-324 }, 400, 'tolerance'],
    ['a negative limit', { hotendLimitMm: 1.9, smallestFeedableMm: -1, toleranceMm: 0.05 }, 400, 'smallest feedable'],
    [
      'a least feedable diameter that the line cannot see',
      { hotendLimitMm: 1.9, smallestFeedableMm: 0.4, toleranceMm: 0.05 },
      400,
      'detects no strand',
    ],
    ['no limit at all', { smallestFeedableMm: 1.6, toleranceMm: 0.05 }, 400, 'hotendLimitMm'],
    ['no name', { name: ' ', hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05 }, 400, 'no name'],
  ])('refuses to store a printer with %s', async (_what, limits, status, says) => {
    const before = await service.get<PrinterProfile[]>('/api/printers');
    const reply = await service.send('POST', '/api/printers', { name: 'Odd', ...limits });
    expect(reply.status).toBe(status);
    expect((reply.body as { title: string }).title).toContain(says);
    expect(await service.get('/api/printers')).toEqual(before);
  });

  it.each([
    ['negative', { measuredMm: -5, indicatedMm: 10_000, uncertaintyMm: 1 }],
    ['zero', { measuredMm: 0, indicatedMm: 10_000, uncertaintyMm: 0 }],
    ['counted as nothing', { measuredMm: 5000, indicatedMm: 0, uncertaintyMm: 1 }],
    ['of another unit', { measuredMm: 10, indicatedMm: 10_000, uncertaintyMm: 0.1 }],
    ['exact, as no tape is', { measuredMm: 10_000, indicatedMm: 10_000, uncertaintyMm: 0 }],
    ['less sure than a guess', { measuredMm: 1000, indicatedMm: 1000, uncertaintyMm: 500 }],
  ])('refuses a tape measurement that is %s', async (_what, correction) => {
    expect((await service.send('PUT', '/api/spools/1/length-correction', correction)).status).toBe(400);
    expect((await judgement()).lengthScale.measured).toBeNull();
  });
});

describe('the list of printers', () => {
  it('starts with the limits of the line, which can be changed only in its settings', async () => {
    const [own] = await service.get<PrinterProfile[]>('/api/printers');
    expect(own).toMatchObject({ id: 0, hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05 });
    expect((await service.send('DELETE', '/api/printers/0')).status).toBe(409);
    expect((await service.send('PUT', '/api/printers/0', { ...own, id: undefined })).status).toBe(409);
  });

  it('accepts additions, changes and removals, with unique names', async () => {
    const added = await addPrinter('Corner printer', { note: 'steel drive gear' });
    const twin = await service.send('POST', '/api/printers', { ...added, id: undefined, name: 'corner PRINTER ' });
    expect(twin.status).toBe(400);
    const changed = {
      name: 'Corner printer',
      hotendLimitMm: 1.88,
      smallestFeedableMm: 1.6,
      toleranceMm: 0.04,
      note: '',
    };
    expect(await service.send('PUT', `/api/printers/${added.id}`, changed)).toEqual({
      status: 200,
      body: { ...changed, id: added.id },
    });
    expect((await service.send('DELETE', `/api/printers/${added.id}`)).status).toBe(204);
    expect((await service.send('DELETE', `/api/printers/${added.id}`)).status).toBe(404);
    expect((await service.send('PUT', '/api/spools/1/choices', { printerId: added.id })).status).toBe(404);
  });

  it('falls back to the limits of the line for spools whose printer is removed', async () => {
    const own = await judgement();
    const gone = await addPrinter('Gone soon', { hotendLimitMm: 1.8, smallestFeedableMm: 1.7 });
    expect((await judgedFor(gone)).printer).toEqual(gone);
    await service.send('DELETE', `/api/printers/${gone.id}`);
    expect(await judgement()).toEqual(own);
    await judgedFor(LINE);
  });
});
