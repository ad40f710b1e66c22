import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type {
  CoilDetail,
  CoilView,
  CutInput,
  CutPiecesInput,
  CutPlanView,
  PrintFitView,
} from '../../server/api/contract/cut-plan.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { SpoolChoicesView, SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import type { SampleReader } from '../../server/monitor/ports/samples.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { type TestService, woundBySimulator } from './test-service.ts';

const CHOICES = { shortestMm: 1000, doubtful: 'keep', objective: 'mostLength' } as const;
const USUAL = { shortestMm: null, doubtful: 'cut', objective: 'mostLength' } as const;
let service: TestService;
const choose = (choices: Partial<SpoolChoicesView>) => service.send('PUT', '/api/spools/1/choices', choices);
const plan = () => service.get<CutPlanView>('/api/spools/1/cut-plan');
const tick = (cut: CutInput) => service.send('POST', '/api/spools/1/cuts', cut);
const undo = () => service.send('DELETE', '/api/spools/1/cuts/last');

beforeAll(async () => {
  service = await woundBySimulator('blobs-and-necks?seed=11', 20_000);
  expect((await choose(CHOICES)).status).toBe(200);
}, 60_000);
afterAll(() => service?.stop());

const addsUp = ({ totals, steps, done, coils }: CutPlanView): void => {
  expect(totals.keptMm + totals.discardedMm + totals.unknownMm).toBe(totals.woundMm);
  let outer = 0;
  for (const piece of [...done, ...steps]) {
    expect(piece.fromOuterMm).toBe(outer);
    outer = piece.toOuterMm;
  }
  expect(outer).toBe(totals.woundMm);
  const inCoils = coils.filter((c) => c.condition !== 'spoilt').reduce((sum, coil) => sum + coil.lengthMm, 0);
  expect(inCoils).toBe(totals.keptMm + totals.unknownInCoilsMm);
};

describe('the cut plan of a stored spool', () => {
  it.each(['mostLength', 'fewestCuts'] as const)('loses no millimetre and keeps no discard (%s)', async (objective) => {
    const { sections } = await service.get<SpoolJudgement>('/api/spools/1/judgement');
    await choose({ objective });
    const made = await plan();
    await choose(CHOICES);
    expect(made.choices.objective).toBe(objective);
    addsUp(made);
    expect(made.steps.length).toBeGreaterThan(2);
    const bad = sections.filter((section) => section.verdict === 'discard');
    expect(bad.length).toBeGreaterThan(3);
    for (const coil of made.coils) {
      expect(coil.lengthMm).toBeGreaterThanOrEqual(1000);
      for (const section of bad)
        expect(section.toOuterMm! <= coil.fromOuterMm || section.fromOuterMm! >= coil.toOuterMm).toBe(true);
    }
  });

  it('uses the shortest coil of the settings unless the request states another', async () => {
    await choose({ shortestMm: null });
    const { shortestMm, choices } = await plan();
    expect([shortestMm, choices.shortestMm]).toEqual([service.monitor.settings.shortestCoilMm, null]);
    await choose(CHOICES);
  });

  it('counts as kept what was not cut off, which is less than the strand that is not bad', async () => {
    const detail = () => service.get<SpoolDetail>('/api/spools/1');
    await choose(USUAL);
    const whole = await plan();
    const { spool, run } = await detail();
    expect(spool.cutOffMm).toBe(0);
    expect(spool.kept).toMatchObject({ keptMm: whole.totals.keptMm, coils: whole.coils.length });
    expect(spool.kept!.keptMm).toBeLessThan(spool.woundMm - spool.discardMm - spool.doubtfulMm - spool.unknownMm);
    expect(run.keptMm).toBe(whole.totals.keptMm);
    const cut: CutInput = { action: 'discard', countedMm: 1500, cutsBefore: 0 };
    expect((await tick(cut)).status).toBe(201);
    expect((await detail()).spool).toMatchObject({ cutOffMm: 1500, woundMm: spool.woundMm });
    const after = await plan();
    expect((await detail()).spool.kept!.keptMm).toBe(after.totals.keptMm);
    await undo();
    expect((await detail()).spool.cutOffMm).toBe(0);
    await choose(CHOICES);
  });

  it('follows the cuts that are ticked off, refuses the same step twice, and undoes them', async () => {
    const before = await plan();
    const [first] = before.steps;
    const cut: CutInput = {
      action: first!.action === 'discard' ? 'discard' : 'keep',
      countedMm: first!.countedMm,
      cutsBefore: 0,
    };
    const done = await tick(cut);
    expect(done.status).toBe(201);
    const after = done.body as CutPlanView;
    addsUp(after);
    expect(after.done).toHaveLength(1);
    expect(after.done[0]).toMatchObject({ action: cut.action, countedMm: cut.countedMm, condition: 'clean' });
    expect(after.steps.length).toBe(before.steps.length - 1);
    expect(after.coils.filter((coil) => coil.state === 'cut').length).toBe(cut.action === 'keep' ? 1 : 0);
    // The other phone still shows the first step.
    expect(await tick(cut)).toMatchObject({ status: 409, body: { type: 'urn:strandward:problem:wrong-state' } });
    const undone = await undo();
    expect(undone.status).toBe(200);
    expect(undone.body).toEqual(before);
    expect((await undo()).status).toBe(409);
  });

  it('answers plainly if two people cut at once, and if one undoes a step after the other went on', async () => {
    const before = await plan();
    const cut: CutInput = { action: 'keep', countedMm: 1500, cutsBefore: 0 };
    // Both pages show no cut yet. One is recorded, the other told.
    const both = await Promise.all([tick(cut), tick({ ...cut, countedMm: 1400 })]);
    expect(both.map(({ status }) => status).sort()).toEqual([201, 409]);
    expect(both.find(({ status }) => status === 409)!.body).toMatchObject({
      title: 'Another page changed the cuts of this spool: 1 cut is ticked off, not 0.',
      detail: 'Load the cut list again and continue with its first step.',
    });
    await tick({ action: 'discard', countedMm: 200, cutsBefore: 1 });
    // The first still sees one cut, and would undo the second, which it does not know of.
    const late = await service.send('DELETE', '/api/spools/1/cuts/last?cutsBefore=1');
    expect(late).toMatchObject({
      status: 409,
      body: { title: expect.stringMatching(/: 2 cuts are ticked off, not 1\.$/) },
    });
    expect((await plan()).done).toHaveLength(2);
    await undo();
    await undo();
    expect(await plan()).toEqual(before);
  });

  it('replaces a coil that was cut back by its pieces in one step, and refuses that of a page that is behind', async () => {
    const correct = (pieces: CutPiecesInput['pieces'], cutsBefore: number) =>
      service.send('PUT', '/api/spools/1/cuts/last', { pieces, cutsBefore });
    const pieces: CutPiecesInput['pieces'] = [
      { action: 'keep', countedMm: 1200 },
      { action: 'discard', countedMm: 300 },
    ];
    expect((await correct(pieces, 0)).status).toBe(409);
    const before = await plan();
    await tick({ action: 'keep', countedMm: 1500, cutsBefore: 0 });
    expect((await correct(pieces, 2)).status).toBe(409);
    expect((await correct([...pieces, { action: 'keep', countedMm: 1e9 }], 1)).status).toBe(400);
    expect((await plan()).done).toMatchObject([{ action: 'keep', countedMm: 1500 }]);
    const { status, body } = await correct(pieces, 1);
    expect(status).toBe(200);
    addsUp(body as CutPlanView);
    const counted = (one: CutPlanView) =>
      one.done.map(({ action, countedMm, toOuterMm }) => [action, countedMm, toOuterMm]);
    expect(counted(body as CutPlanView)).toEqual([
      ['keep', 1200, 1200],
      ['discard', 300, 1500],
    ]);
    expect(await plan()).toEqual(body);
    expect((await service.send('DELETE', '/api/spools/1/cuts/last?cutsBefore=1')).status).toBe(409);
    await undo();
    await undo();
    expect(await plan()).toEqual(before);
  });

  it('continues step by step to the core, and then has no steps left', async () => {
    for (let cuts = 0; ; cuts++) {
      const now = await plan();
      addsUp(now);
      const [step] = now.steps;
      if (step === undefined) break;
      const { status } = await tick({
        action: step.action === 'discard' ? 'discard' : 'keep',
        countedMm: step.countedMm,
        cutsBefore: cuts,
        ...(step.cutAfter ? {} : { reachedEnd: true }),
      });
      expect(status).toBe(201);
    }
    const end = await plan();
    expect(end.coils.length).toBeGreaterThan(1);
    expect(end.coils.every((coil) => coil.state === 'cut' && coil.condition === 'clean')).toBe(true);
    expect((await tick({ action: 'keep', countedMm: 500 })).status).toBe(400);
    for (let left = end.done.length; left > 0; left--) expect((await undo()).status).toBe(200);
    expect((await plan()).done).toEqual([]);
  });

  it('refuses an impossible cut, and stores nothing of it', async () => {
    for (const cut of [
      { action: 'keep', countedMm: -1 },
      { action: 'keep', countedMm: 1e9 },
      { action: 'keep', countedMm: 100, landmarkCountedMm: 200 },
      { action: 'eat', countedMm: 100 },
    ]) {
      expect((await tick(cut as CutInput)).status).toBe(400);
    }
    expect((await plan()).done).toEqual([]);
  });
});

describe('the coils', () => {
  it('have names that plan, steps and prints use, until the names are removed', async () => {
    const name = (ordinal: number, text: string) =>
      service.send('PUT', `/api/spools/1/coils/${ordinal}`, { name: text });
    const before = await plan();
    const named = await name(1, ' Blue box, left ');
    expect(named).toMatchObject({ status: 200, body: { ordinal: 1, name: 'Blue box, left', named: true } });
    const after = await plan();
    expect(after.coils[0]!.name).toBe('Blue box, left');
    const step = after.steps.find((candidate) => candidate.coil === 'Blue box, left');
    expect(step!.sentence).toContain('coil Blue box, left');
    expect((await name(2, 'Blue box, left')).status).toBe(400);
    expect(await name(99, 'None')).toMatchObject({
      status: 404,
      body: { type: 'urn:strandward:problem:unknown-coil' },
    });
    expect(((await name(1, '')).body as CoilView).name).toBe(before.coils[0]!.name);
    expect(await plan()).toEqual(before);
  });

  it('keep their names on their strand when the plan changes', async () => {
    const before = await plan();
    const coil = before.coils.at(-1)!;
    await service.send('PUT', `/api/spools/1/coils/${coil.ordinal}`, { name: 'Core end' });
    const holds = ({ fromMm, toMm }: CoilView) =>
      Math.min(toMm, coil.toMm) - Math.max(fromMm, coil.fromMm) > coil.lengthMm / 2;
    let moved = 0;
    for (const choices of [{ ...CHOICES, shortestMm: 2500 }, { ...CHOICES, objective: 'fewestCuts' }, USUAL] as const) {
      await choose(choices);
      const { coils } = await plan();
      expect(coils.filter(({ name }) => name === 'Core end')).toEqual(coils.filter(holds));
      if (coils.find(holds)?.ordinal !== coil.ordinal) moved++;
    }
    expect(moved).toBeGreaterThan(0);
    await choose(CHOICES);
    await service.send('PUT', `/api/spools/1/coils/${coil.ordinal}`, { name: '' });
    expect(await plan()).toEqual(before);
  });

  it('have separate statistics, computed from the stored readings', async () => {
    const coils = await service.get<CoilDetail[]>('/api/spools/1/coils');
    const spool = service.store.reader.spool(1)!;
    for (const { coil, statistics, verdict } of coils) {
      const { values } = await service.store.columns.readings(
        spool.runId,
        spool.startGaugeMm + coil.fromMm,
        spool.startGaugeMm + coil.toMm,
        ['d'],
      );
      const d = [...values.d!];
      expect(statistics!.minMm).toBe(Math.min(...d));
      expect(statistics!.maxMm).toBe(Math.max(...d));
      expect(statistics!.meanMm).toBeCloseTo(d.reduce((a, b) => a + b, 0) / d.length, 3);
      expect(coil.grams! / ((1.24 / 1000) * (Math.PI / 4) * 1.75 ** 2 * coil.lengthMm)).toBeCloseTo(1, 2);
      if (coil.doubtfulMm === 0 && coil.unknownMm === 0) expect(verdict!.fitness).toBe('fit');
      // The gauge resolves 1 µm, and the blobs were cut off.
      expect(statistics!.maxMm).toBeLessThanOrEqual(1.9 + 0.005);
    }
  });
});

describe('whether a print fits', () => {
  it('names the shortest coil that is long enough, with a reserve', async () => {
    const { coils } = await plan();
    const fit = await service.get<PrintFitView>('/api/spools/1/print-fit?metres=1');
    expect(fit.needMm).toBe(1000);
    expect(fit.withReserveMm).toBe(1530);
    const best = coils.filter((c) => c.lengthMm >= 1530).sort((a, b) => a.lengthMm - b.lengthMm)[0]!;
    expect(fit).toMatchObject({ fits: true, coil: best.name, leftOverMm: best.lengthMm - 1530, caution: null });
    // 1.24 g/cm³ at 1.75 mm is 2.982 g a metre.
    const byMass = await service.get<PrintFitView>('/api/spools/1/print-fit?grams=2.982');
    expect(Math.abs(byMass.needMm - 1000)).toBeLessThan(0.5);
    const none = await service.get<PrintFitView>('/api/spools/1/print-fit?metres=5000');
    expect(none).toMatchObject({ fits: false, coil: null, combination: null });
  });

  it.each(['', '?metres=1&grams=1', '?metres=-3', '?grams=0', '?metre=1'])('is refused with “%s”', async (need) => {
    expect((await service.send('GET', `/api/spools/1/print-fit${need}`)).status).toBe(400);
  });
});

it.skipIf(!IS_LONG_CHECK)(
  'keeps a short spool whole if nothing has to be cut, and never says that nothing is left to keep',
  async () => {
    const short = await woundBySimulator('steady?seed=4', 2000);
    try {
      const { spool, run } = await short.get<SpoolDetail>('/api/spools/1');
      expect(spool.woundMm).toBeLessThan(short.monitor.settings.shortestCoilMm);
      // A cut list uses whole millimetres.
      const keptMm = Math.round(spool.woundMm);
      expect(spool.kept).toEqual({ keptMm, coils: 1, longestCoilMm: keptMm });
      expect(run).toMatchObject({ keptMm, coils: 1 });
      expect(run.verdict).toEqual({ quality: 'good', reason: 'No bad stretch was found.' });
      const { verdict } = await short.get<SpoolJudgement>('/api/spools/1/judgement');
      expect(verdict).toMatchObject({ fitness: 'fit', afterCutting: null });
    } finally {
      await short.stop();
    }
  },
  60_000,
);

it.skipIf(!IS_LONG_CHECK)(
  'is not cut by a plan made before a user corrected where the spool starts',
  async () => {
    const short = await woundBySimulator('steady?seed=5', 6000);
    try {
      const { startGaugeMm } = short.store.reader.spool(1)!;
      // The cut waits for its cut list; another user moves the start at the same time.
      const samples = short.store.columns as { extent: SampleReader['extent'] };
      const { extent } = samples;
      let goOn: () => void = () => {};
      const asked = new Promise<void>((tell) => {
        samples.extent = async (runId) => {
          samples.extent = extent;
          tell();
          await new Promise<void>((resolve) => {
            goOn = resolve;
          });
          return extent.call(samples, runId);
        };
      });
      const cutting = short.send('POST', '/api/spools/1/cuts', { action: 'discard', countedMm: 1000 });
      await asked;
      const moved = await short.send('POST', '/api/spools/1/start', { startGaugeMm: startGaugeMm + 500 });
      expect(moved.status).toBe(200);
      goOn();
      expect(await cutting).toMatchObject({ status: 409, body: { type: 'urn:strandward:problem:wrong-state' } });
      expect((await short.get<SpoolDetail>('/api/spools/1')).spool.cutOffMm).toBe(0);
    } finally {
      await short.stop();
    }
  },
  60_000,
);
