/**
 * What users do with a wound spool, in a real browser: printers, the rewinder, labels, the printed report.
 * All tests use one spool, wound from a recording whose defects are known.
 */
import decoder from 'jsqr';
import type { BrowserContextOptions, Locator, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test, vi } from 'vitest';
import type { CoilDetail, CutPlanView } from '../../server/api/contract/cut-plan.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { PrinterProfile } from '../../server/api/contract/printers.ts';
import type { SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import type { StockView } from '../../server/api/contract/stock.ts';
import { LABEL_SIZES } from '../../web/label/label-sizes.ts';
import { GLOSSARY } from '../../web/terms/glossary.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { type RunningService, until } from '../service/running-service.ts';
import { windRecording } from '../service/wound-recording.ts';
import {
  contrastFaults,
  DESKTOP,
  holdAnswers,
  PHONE,
  sharedBrowser,
  shiftFaults,
  stateFaults,
  type TestBrowser,
  thumbFaults,
} from './browser.ts';
import { OpenedPages } from './opened-pages.ts';
import { blackAndWhite, printed } from './printed.ts';

// A busy machine is slow to start processes and to judge a spool.
vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });
const JUDGED_WITHIN_MS = 60_000;

const SPEED_MM_PER_S = 100;
const PITCH_MM = SPEED_MM_PER_S / 50;
const LENGTH_MM = 60_000;
/** The default path from gauge to winder. */
const PATH_MM = 1200;
/** Tolerance for the edge of a found section: diameters are averaged over 20 mm, and readings are one pitch apart. */
const EDGE_TOLERANCE_MM = 20 + PITCH_MM;
/** Where the defects pass the gauge, mm of strand. The hump is thinner than the line's limit of 1.9 and thicker than the limit of a tighter printer. */
const BLOB = { fromMm: 20_000, toMm: 20_030, diameterMm: 2.05 };
const NECK = { fromMm: 35_000, toMm: 35_040, diameterMm: 1.48 };
const HUMP = { fromMm: 46_000, toMm: 46_030, diameterMm: 1.87 };
/** Distance from the outer end: the outer end has travelled PATH_MM since the gauge. */
const outerMm = (gaugeMm: number) => LENGTH_MM - PATH_MM - gaugeMm;

let service: RunningService;
let browser: TestBrowser;
const opened = new OpenedPages(
  () => browser,
  () => service.address,
);

function* recording(): Generator<string> {
  for (let i = 0; i * PITCH_MM <= LENGTH_MM; i++) {
    const mm = i * PITCH_MM;
    const at = [BLOB, NECK, HUMP].find((one) => mm >= one.fromMm && mm < one.toMm);
    const noise = (((i * 7919) % 1009) / 1009 - 0.5) * 0.02;
    const t = 195 + 0.1 * ((i >> 4) % 3);
    yield `ms=${i * 20} d=${((at?.diameterMm ?? 1.75) + noise).toFixed(3)} t1=${t} s1=195 p1=0.4 v=100 len=${mm}`;
  }
}

/** jsqr's types describe a module with a default export, but its code is the function itself. */
const readCode = decoder as unknown as typeof decoder.default;

const textOf = async (one: Locator): Promise<string> => (await one.textContent()) ?? '';
const plan = () => service.get<CutPlanView>('/api/spools/1/cut-plan');

const open = async (path: string, options: BrowserContextOptions = {}): Promise<Page> =>
  (await opened.open(path, options)).page;

beforeAll(async () => {
  [service, browser] = await Promise.all([windRecording(recording()), sharedBrowser()]);
});

afterEach(async () => {
  expect(await opened.close()).toEqual([]);
});

afterAll(async () => {
  await browser?.close();
  await service?.remove();
});

test.skipIf(!IS_LONG_CHECK)(
  'marks rows as being fetched, also while the service refuses them, until they arrive',
  async () => {
    const watched = await browser.page();
    const { page } = watched;
    let refused = 0;
    const released: (() => void)[] = [];
    await page.route('**/window?*', async (route) => {
      if (refused++ === 0) return route.abort();
      await new Promise<void>((resolve) => released.push(resolve));
      // Requests that were waiting when the route was removed have already continued.
      return route.continue().catch(() => {});
    });
    await page.goto(`${service.address}/spool/1`);
    const coming = () => page.locator('.row-strand.coming').count();
    await until(coming, (rows) => rows > 0, 'rows that are fetched');
    // The first request was refused and is repeated automatically.
    await until(
      () => released.length,
      (count) => count > 0,
      'the same question again',
    );
    expect(await coming()).toBeGreaterThan(0);
    await page.unroute('**/window?*');
    for (const go of released) go();
    await until(coming, (rows) => rows === 0, 'rows that are there');
    await watched.close();
  },
);

describe('printers', () => {
  const printers = () => service.get<PrinterProfile[]>('/api/printers');
  const field = (page: Page, name: string) => page.locator(`#printer-${name}`);

  test.skipIf(!IS_LONG_CHECK)('refuses an impossible limit at its field, and saves nothing', async () => {
    const { page, complaints: consoleErrors } = await opened.open('/printers');
    await page.getByRole('button', { name: 'Add a printer' }).click();

    // By keyboard alone: the explanation takes the focus, so that it is read out, and gives it back. Nothing moves.
    const mark = page.getByRole('button', { name: 'What does “Hotend limit, mm” mean?' });
    const before = await field(page, 'hotendLimitMm').boundingBox();
    await mark.press('Enter');
    const explanation = page.getByText(GLOSSARY.hotendLimit);
    await explanation.and(page.locator(':focus')).waitFor();
    expect(await field(page, 'hotendLimitMm').boundingBox()).toEqual(before);
    await page.keyboard.press('Escape');
    await explanation.waitFor({ state: 'hidden' });
    await mark.and(page.locator(':focus')).waitFor();

    await field(page, 'name').fill('Corner printer');
    await field(page, 'hotendLimitMm').fill('1,70');
    await field(page, 'smallestFeedableMm').fill('1.60');
    await field(page, 'toleranceMm').fill('0.05');
    await page.getByRole('button', { name: 'Add the printer' }).click();
    const refusal = textOf(page.locator('#printer-hotendLimitMm-fault'));
    expect(await refusal).toMatch(/hotend limit.*1\.7/);
    expect(await field(page, 'hotendLimitMm').getAttribute('aria-invalid')).toBe('true');
    await page.locator('#printer-hotendLimitMm:focus').waitFor();
    expect(await printers()).toHaveLength(1);

    // Only the service knows below which diameter there is no strand. Its refusal points to the field.
    await field(page, 'hotendLimitMm').fill('1,84');
    await field(page, 'smallestFeedableMm').fill('0.4');
    await page.getByRole('button', { name: 'Add the printer' }).click();
    await page.locator('#printer-smallestFeedableMm:focus').waitFor();
    expect(await textOf(page.locator('#printer-smallestFeedableMm-fault'))).toMatch(/detects no strand/);
    expect(await page.locator('.printer-form .problem').count()).toBe(0);
    // The refusal itself, which the browser logs.
    expect(consoleErrors.splice(0)).toHaveLength(1);
    expect(await printers()).toHaveLength(1);

    await field(page, 'smallestFeedableMm').fill('1.60');
    await page.getByRole('button', { name: 'Add the printer' }).click();
    await page.getByTestId('printer').filter({ hasText: 'Corner printer' }).waitFor();
    expect((await printers())[1]).toMatchObject({ name: 'Corner printer', hotendLimitMm: 1.84, toleranceMm: 0.05 });
  });

  test.skipIf(!IS_LONG_CHECK)(
    'judges the spool again for another printer, and after a change of its limits',
    async () => {
      const page = await open('/spool/1');
      await page.getByLabel('Judged for').selectOption({ label: 'Corner printer' });
      const blobs = page.locator('[data-testid=section-row][data-kind=blob]');
      await until(
        () => blobs.count(),
        (n) => n === 2,
        'the hump among the blobs',
        JUDGED_WITHIN_MS,
      );
      const [first, second] = [blobs.nth(0), blobs.nth(1)];
      const at = async (row: Locator) => Number(await row.getAttribute('data-from-mm'));
      // Worst first: the blob, then the hump, as far apart as they passed the gauge.
      expect(Math.abs((await at(second)) - (await at(first)) - (HUMP.fromMm - BLOB.fromMm))).toBeLessThan(
        2 * EDGE_TOLERANCE_MM,
      );
      expect(await textOf(page.getByTestId('spool-verdict'))).toContain('Corner printer');

      await page.goto(`${service.address}/printers`);
      await page.getByRole('button', { name: 'Change Corner printer' }).click();
      await field(page, 'hotendLimitMm').fill('1.95');
      await page.getByRole('button', { name: 'Save' }).click();
      await page.getByTestId('printer').filter({ hasText: '1.950 mm' }).waitFor();
      await page.goto(`${service.address}/spool/1`);
      await until(
        () => blobs.count(),
        (n) => n === 1,
        'only the blob beyond the new limit',
        JUDGED_WITHIN_MS,
      );
      expect(await textOf(blobs.first())).toMatch(/2\.0\d\d mm/);

      // The following tests cut by the line's own limits.
      await page.getByLabel('Judged for').selectOption('0');
      await until(plan, (p) => p.printer.id === 0, 'the line’s own limits');
    },
  );
});

describe('the rewinder', () => {
  const number = async (page: Page) =>
    Number(
      await textOf(page.getByTestId('step-number').locator('xpath=text()[1]/..')).then((t) =>
        t.replace(/[^0-9.]/g, ''),
      ),
    );
  const step = (page: Page, action: 'keep' | 'discard') =>
    page.locator(`[data-testid=step][data-action=${action === 'keep' ? 'unwindAndKeep' : 'discard'}]`);
  const cuts = async () => (await plan()).done.length;

  test('goes step by step from the outer end, shows the landmark, undoes a step, and plans on from the real cuts', async () => {
    const page = await open('/spool/1/rewind', { viewport: PHONE });
    await page.getByTestId('explanation').waitFor();
    expect([...(await stateFaults(page, 'before cutting')), ...(await thumbFaults(page, 'before cutting'))]).toEqual(
      [],
    );
    const planned = await plan();
    await page.getByRole('button', { name: `Begin: ${planned.steps.length} steps` }).click();

    // The thin spot comes first. The first cut is at its near edge, less the guard for a count of that length.
    await step(page, 'keep').waitFor();
    const toNeckMm = outerMm(NECK.toMm);
    const first = (await number(page)) * 1000;
    expect(first).toBeCloseTo(planned.steps[0]!.countedMm, -1);
    expect(first).toBeLessThan(toNeckMm);
    expect(Math.abs(first + planned.steps[1]!.marginBeforeMm - toNeckMm)).toBeLessThan(EDGE_TOLERANCE_MM + 10);
    expect(await textOf(page.locator('.step-next'))).toMatch(/thin spot of 1\.4\d/);
    await page.getByRole('button', { name: 'Done' }).click();

    await step(page, 'discard').waitFor();
    expect(await cuts()).toBe(1);
    expect(await textOf(page.locator('.landmark-text'))).toMatch(/thin spot of 1\.4\d\smm/);
    const due = Number(await page.locator('#seen-at').inputValue());
    const before = await number(page);
    const [landmark] = (await plan()).steps[0]!.landmarks;
    expect(landmark!.afterCutMm / 1000).toBeCloseTo(due, 2);
    // Seen 5 cm late: only the rest of the thin spot is counted from there, which saves strand.
    expect(await textOf(page.getByTestId('landmark-gain'))).toMatch(/you discard .* less/);
    await page.locator('#seen-at').fill((due + 0.05).toFixed(2));
    await page.getByRole('button', { name: 'I see it now' }).click();
    await page.locator('.landmark.seen').waitFor();
    expect(await number(page)).toBeCloseTo(due + 0.05 + landmark!.thenMm / 1000, 1);
    expect(await number(page)).toBeLessThan(before);

    await page.getByRole('button', { name: 'Undo the last step' }).click();
    await step(page, 'keep').waitFor();
    expect(await cuts()).toBe(0);
    expect((await number(page)) * 1000).toBeCloseTo(first, 0);

    // Cut two metres early: the next piece to discard starts two metres further out.
    await page.locator('#counted').fill(((first - 2000) / 1000).toFixed(2));
    await page.getByRole('button', { name: 'Done' }).click();
    await step(page, 'discard').waitFor();
    const [cut] = (await plan()).done;
    expect(cut).toMatchObject({ action: 'keep', condition: 'clean' });
    expect(cut!.countedMm).toBeCloseTo(first - 2000, -1);
    const dueNow = Number(await page.locator('#seen-at').inputValue());
    expect(dueNow - due).toBeCloseTo(2, 1);
  });

  test.skipIf(!IS_LONG_CHECK)(
    'follows another phone, never ticks off its step again, and asks before undoing it',
    async () => {
      const a = await open('/spool/1/rewind', { viewport: PHONE });
      const { page: b, complaints } = await opened.open('/spool/1/rewind', { viewport: PHONE });
      for (const page of [a, b]) await page.locator('.step-count', { hasText: 'Step 2 of' }).waitFor();
      await a.getByRole('button', { name: 'Done' }).click();
      const others = b.getByTestId('others');
      await others.getByText(/did step 2: discarded/).waitFor();
      expect(await b.locator('.step-count').textContent()).toMatch(/^Step 3 of/);
      // A thumb that was on its way to “Done” only confirms.
      expect(await b.getByRole('button', { name: 'Done' }).count()).toBe(0);
      await others.getByRole('button', { name: 'Go on with step 3' }).click();
      await b.getByRole('button', { name: 'Done' }).waitFor();
      await b.getByRole('button', { name: 'Undo the last step' }).click();
      await b
        .getByRole('dialog')
        .getByText(/Undo step 2, which .* did\?/)
        .waitFor();
      await b.getByRole('button', { name: 'Undo it' }).click();
      await a
        .getByTestId('others')
        .getByText(/undid step 2/)
        .waitFor();
      await a.getByRole('button', { name: 'Go on with step 2' }).click();
      // Both press at the same time: one step, and a button to go on from there.
      await b.locator('.step-count', { hasText: 'Step 2 of' }).waitFor();
      const release = await holdAnswers(b, '**/cut-plan');
      await a.getByRole('button', { name: 'Done' }).click();
      await a.locator('.step-count', { hasText: 'Step 3 of' }).waitFor();
      await b.getByRole('button', { name: 'Done' }).click();
      release();
      await others.getByRole('button', { name: 'Go on with step 3' }).click();
      expect(await cuts()).toBe(2);
      // The refusal, which the browser logs.
      expect(complaints.splice(0)).toHaveLength(1);
      await a.getByRole('button', { name: 'Undo the last step' }).click();
      await until(cuts, (n) => n === 1, 'one cut', JUDGED_WITHIN_MS);
    },
  );

  test.skipIf(!IS_LONG_CHECK)(
    'counts down beside a hand-held counter, and is a printed list, CSV and JSON too',
    async () => {
      const page = await open('/spool/1/rewind', { viewport: PHONE });
      await page.locator('.step-count', { hasText: 'Step 2 of' }).waitFor();
      const whole = await number(page);
      await page.getByRole('button', { name: 'Count down beside a hand-held counter' }).click();
      await page.locator('#counter').fill('0.20');
      expect(await number(page)).toBeCloseTo(whole - 0.2, 2);
      await page.locator('#counter').fill((whole + 0.5).toFixed(2));
      await page.locator('.step-number.past').waitFor();
      expect(Number(await page.locator('#counted').inputValue())).toBeCloseTo(whole + 0.5, 2);

      await page.goto(`${service.address}/spool/1/cut-list`);
      const { steps, done } = await plan();
      await page.getByTestId('cut-list-step').first().waitFor();
      expect(await page.getByTestId('cut-list-step').count()).toBe(steps.length);
      const csv = await (await fetch(`${service.address}/api/spools/1/cut-plan/csv`)).text();
      const rows = csv.trimEnd().split('\r\n');
      expect(rows).toHaveLength(steps.length + 1);
      expect(rows[1]).toMatch(new RegExp(`^${done.length + 1},discard,${(steps[0]!.countedMm / 1000).toFixed(3)},`));
    },
  );

  test('says at once that a coil was cut too long, where the bad stretch is, and records that it was cut back', async () => {
    const page = await open('/spool/1/rewind', { viewport: PHONE });
    await page.getByRole('button', { name: 'Undo the last step' }).click();
    await step(page, 'keep').waitFor();
    const toNeckMm = outerMm(NECK.toMm);
    await page.locator('#counted').fill(((toNeckMm + 600) / 1000).toFixed(2));
    await page.getByRole('button', { name: 'Done' }).click();
    const rescue = page.getByTestId('coil-rescue');
    await rescue.waitFor();
    expect(await textOf(rescue)).toMatch(/holds a thin spot of 1\.4\d\smm about \d+\smm from its inner end/);
    expect(await stateFaults(page, 'a spoilt coil')).toEqual([]);
    const labels = await open('/spool/1/label', { viewport: PHONE });
    await labels.getByText(/its \d coils/).click({ force: true });
    await labels.getByText('Do not print: contains a bad stretch').waitFor();
    await labels.getByText(/^First cut .* off its inner end$/).waitFor();
    await page.getByRole('button', { name: 'Done' }).click();
    await until(plan, (p) => p.done.length === 2, 'another cut', JUDGED_WITHIN_MS);
    await rescue.getByText(/This coil is off the rewinder already: cut it back, then write .* on its label/).waitFor();
    expect(await rescue.getByRole('button').count()).toBe(0);
    await page.getByRole('button', { name: 'Undo the last step' }).click();
    await rescue.getByRole('button', { name: /I have cut/ }).click();
    await rescue.waitFor({ state: 'detached' });
    const { coils, done } = await plan();
    expect(coils.every(({ condition }) => condition === 'clean')).toBe(true);
    expect(done.map(({ action }) => action)).toEqual(['keep', 'discard']);
    await page.getByRole('button', { name: 'Undo the last step' }).click();
    await until(plan, (p) => p.done.length === 1, 'one cut', JUDGED_WITHIN_MS);
  });

  test('continues where another phone stopped, to the coils, which can be named', async () => {
    const page = await open('/spool/1/rewind', { viewport: PHONE });
    for (let done = 1; ; done++) {
      const next = await page.getByTestId('step').or(page.getByTestId('all-cut')).first().getAttribute('data-testid');
      if (next === 'all-cut') break;
      expect(done).toBeLessThan(8);
      await page.locator('.step-count', { hasText: `Step ${done + 1} of` }).waitFor();
      await page.getByRole('button', { name: 'Done' }).click();
      await page
        .locator('.step-count', { hasText: `Step ${done + 2} of` })
        .or(page.getByTestId('all-cut'))
        .first()
        .waitFor();
    }
    const { coils, totals } = await plan();
    expect(await page.getByTestId('coil').count()).toBe(coils.length);
    expect(coils.length).toBe(3);
    expect(await textOf(page.getByRole('heading', { level: 1 }))).toContain('3 coils');
    // Strand between the defects is kept, except for the guards, which are wide since no landmark was confirmed.
    expect(coils[1]!.lengthMm).toBeLessThan(NECK.fromMm - BLOB.toMm);
    expect(coils[1]!.lengthMm).toBeGreaterThan(0.85 * (NECK.fromMm - BLOB.toMm));
    expect(totals.keptMm).toBeLessThan(totals.woundMm);

    const name = page.getByRole('textbox', { name: 'Name of coil 2' });
    await name.fill('For the vase');
    await name.press('Enter');
    await until(plan, (p) => p.coils[1]!.name === 'For the vase', 'the name', JUDGED_WITHIN_MS);
  });

  test.skipIf(!IS_LONG_CHECK)('has no serious WCAG 2.2 AA violations at a step and after the last', async () => {
    const page = await open('/spool/1/rewind', { viewport: PHONE, colorScheme: 'dark' });
    await page.getByTestId('all-cut').waitFor();
    const faults = await stateFaults(page, 'all cut');
    await page.getByRole('button', { name: 'Undo the last step' }).click();
    await page.getByTestId('step').waitFor();
    faults.push(...(await stateFaults(page, 'a step')));
    faults.push(...(await contrastFaults(page, 'a step', 'light')));
    await page.getByRole('button', { name: 'Done' }).click();
    await page.getByTestId('all-cut').waitFor();
    expect(faults).toEqual([]);
  });
});

test.skipIf(!IS_LONG_CHECK)(
  'cuts a spool with 14 blobs and 5 thin spots: 20 cuts take at most 30 taps, with every landmark confirmed',
  async () => {
    const places = [
      ...Array.from({ length: 14 }, (_, i) => [8000 + i * 9100, 30, 2.05] as const),
      ...Array.from({ length: 5 }, (_, i) => [12_500 + i * 26_000, 40, 1.48] as const),
    ];
    const lines = Array.from({ length: 70_001 }, (_, i) => {
      const mm = i * PITCH_MM;
      const at = places.find(([from, length]) => mm >= from && mm < from + length);
      const noise = (((i * 7919) % 1009) / 1009 - 0.5) * 0.02;
      return `ms=${i * 20} d=${((at?.[2] ?? 1.75) + noise).toFixed(3)} t1=195 s1=195 p1=0.4 v=100 len=${mm}`;
    });
    const night = await windRecording(lines);
    const { page, close, complaints } = await browser.page({ viewport: PHONE });
    try {
      await page.goto(`${night.address}/spool/1/rewind`);
      const begin = page.getByRole('button', { name: /^Begin/ });
      const { y, height } = (await begin.boundingBox())!;
      expect(y + height).toBeLessThan(PHONE.height);
      await begin.click();
      let taps = 1;
      const seenAndCut = page.getByRole('button', { name: /^I saw it, and cut/ });
      for (let done = 0; done < 20; done++) {
        await page.locator('.step-count', { hasText: `Step ${done + 1} of` }).waitFor();
        await ((await seenAndCut.count()) > 0 ? seenAndCut : page.getByRole('button', { name: 'Done' })).click();
        taps += 1;
      }
      await page.locator('.step-count', { hasText: 'Step 21 of' }).waitFor();
      expect(taps).toBeLessThanOrEqual(30);
      const { coils } = await night.get<CutPlanView>('/api/spools/1/cut-plan');
      expect(coils.filter(({ state }) => state === 'cut').every(({ condition }) => condition === 'clean')).toBe(true);
      // The rest was cut by the printed list: one tap, and one to confirm.
      await page.getByText(/^And \d+ more$/).click();
      await page.getByRole('button', { name: 'Cut up to here' }).last().click();
      await page.getByRole('button', { name: 'Tick them off' }).click();
      await page.getByTestId('all-cut').waitFor();
      expect(complaints).toEqual([]);
    } finally {
      await close();
      await night.remove();
    }
  },
);

describe('the other pages of a spool', () => {
  test.skipIf(!IS_LONG_CHECK).each([
    ['/spool/1', PHONE, 'light'],
    ['/spool/1/label', PHONE, 'dark'],
    ['/spool/1', DESKTOP, 'light'],
    ['/printers', PHONE, 'light'],
    ['/runs/1', PHONE, 'light'],
    ['/spool/1/cut-list', PHONE, 'dark'],
  ] as const)('%s has no serious WCAG 2.2 AA violations', async (path, viewport, colorScheme) => {
    const page = await open(path, { viewport, colorScheme });
    await page.locator('h1').first().waitFor();
    await page.waitForFunction(() => !/Fetching|Judging|Looking for/.test(document.body.textContent ?? ''));
    const faults = await stateFaults(page, path);
    const other = colorScheme === 'dark' ? 'light' : 'dark';
    if (viewport === PHONE) faults.push(...(await thumbFaults(page, path)), ...(await shiftFaults(page, path)));
    faults.push(...(await contrastFaults(page, path, other)));
    expect(faults).toEqual([]);
  });
});

test.skipIf(!IS_LONG_CHECK)(
  'moves the ends of a short section in the close-up, by tenths of a millimetre',
  async () => {
    const page = await open('/spool/1');
    await page.locator('[data-testid=section-row][data-kind=blob] .section-open').click();
    const form = page.getByRole('form', { name: /^Adjust: blob/ });
    await form.locator('.close-up .trace').waitFor();
    // Readings are 2 mm apart, columns less: one line all the same.
    expect((await form.locator('.close-up .trace').getAttribute('d'))!.match(/M/g)).toHaveLength(1);
    const [from, to] = [form.getByLabel('From, m'), form.getByLabel('To, m')];
    const mm = async (field: Locator) => Number(await field.inputValue()) * 1000;
    const [fromMm, toMm] = [await mm(from), await mm(to)];
    const { x, y, width, height } = (await form.locator('.close-up svg').boundingBox())!;
    // The section fills a third, so its last end is at two thirds. From there a pixel is less than a millimetre.
    await page.mouse.move(x + (width * 2) / 3, y + height / 2);
    await page.mouse.down();
    await page.mouse.move(x + width * 0.6, y + height / 2);
    await page.mouse.up();
    const movedMm = toMm - (await mm(to));
    expect(movedMm).toBeGreaterThan(0.05 * 3 * (toMm - fromMm));
    expect(movedMm).toBeLessThan(0.09 * 3 * (toMm - fromMm));
    expect(await mm(from)).toBeCloseTo(fromMm, 0);
    expect(await stateFaults(page, 'close-up', '.section-editor')).toEqual([]);
    await form.getByRole('button', { name: 'Cancel' }).click();
  },
);

describe('a label', () => {
  /** The text of the code on the screen, read by an independent decoder. */
  async function scanned(code: Locator): Promise<string | undefined> {
    const png = await code.screenshot();
    const blank = await open('/first-evening');
    const pixels = await blank.evaluate(async (base64) => {
      const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
      const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
      const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
      const context = canvas.getContext('2d')!;
      context.drawImage(bitmap, 0, 0);
      const { data, width, height } = context.getImageData(0, 0, bitmap.width, bitmap.height);
      // A thermal printer knows black and white only.
      for (let i = 0; i < data.length; i += 4) data.fill(data[i]! < 128 ? 0 : 255, i, i + 3);
      return { data: Array.from(data), width, height };
    }, png.toString('base64'));
    return readCode(Uint8ClampedArray.from(pixels.data), pixels.width, pixels.height)?.data;
  }

  /** Width and height of a label, labels in a row, and the margin above the first, mm. */
  const PLACES = {
    tall: [62, 100, 1, 0],
    small: [60, 40, 1, 0],
    sheet24: [70, 37.125, 3, 0],
    sheet10: [105, 57, 2, 6],
  } as const;

  /** Where the codes are on their labels. */
  const codePlaces = (page: Page): Promise<{ leftMm: number; topMm: number; sideMm: number }[]> =>
    page.locator('.label').evaluateAll((labels) =>
      labels.map((label) => {
        const paper = label.getBoundingClientRect();
        const { left, top, width } = label.querySelector('.qr')!.getBoundingClientRect();
        const MM_PER_PX = 25.4 / 96;
        return {
          leftMm: (left - paper.left) * MM_PER_PX,
          topMm: (top - paper.top) * MM_PER_PX,
          sideMm: width * MM_PER_PX,
        };
      }),
    );

  /** Lines that are cut in half, needed lines that are left out, and codes that reach beyond the label. */
  const cutLines = (page: Page): Promise<string[]> =>
    page.locator('.label').evaluateAll((labels) =>
      labels.flatMap((label) => {
        const box = label.querySelector('.label-lines')!.getBoundingClientRect();
        const paper = label.getBoundingClientRect();
        const code = label.querySelector('.qr')!.getBoundingClientRect();
        const foot = label.querySelector('footer > div')!.getBoundingClientRect();
        const faults =
          Math.max(foot.bottom, code.bottom) > paper.bottom || code.left < paper.left
            ? ['the code is not on the paper']
            : [];
        for (const line of label.querySelectorAll('.label-lines > p, dl > div')) {
          const { left, right, top, bottom, height } = line.getBoundingClientRect();
          // Small labels have no figures.
          if (height === 0) continue;
          const shown = left < box.right - 0.5;
          if (shown && (bottom > box.bottom + 0.5 || top < box.top - 0.5 || right > box.right + 0.5)) {
            faults.push(`cut: ${line.textContent}`);
          }
          if (!shown && line.matches('.label-name, .label-amount, .label-needed'))
            faults.push(`left out: ${line.textContent}`);
        }
        return faults.map((fault) => `${label.className}, ${label.getAttribute('aria-label')}: ${fault}`);
      }),
    );

  test.each(casesOf(['light', 'dark'], 1))(
    "has a code that a scanner reads as the address of the spool's page (%s)",
    async (colorScheme) => {
      const page = await open('/spool/1/label', { colorScheme });
      await page.getByRole('radio', { name: 'the spool' }).check();
      await page.getByTestId('label').waitFor();
      const { code } = (await service.get<SpoolDetail>('/api/spools/1')).spool;
      expect(await scanned(page.locator('.label .qr'))).toBe(`${service.address}/C/${code}`.toUpperCase());
      const judged = await service.get<SpoolJudgement>('/api/spools/1/judgement');
      const label = await textOf(page.getByTestId('label'));
      expect(label).toContain(judged.name);
      expect(label).toContain(`${(judged.woundMm / 1000).toFixed(1)} m`);
      expect(label).toContain(judged.statistics!.meanMm.toFixed(3));
    },
  );

  test.skipIf(!IS_LONG_CHECK)(
    'can be scanned from a print of 203 dpi, in every size and for all kinds of coil',
    async () => {
      const kinds: ((one: CoilDetail['coil']) => Partial<CoilDetail['coil']>)[] = [
        () => ({}),
        () => ({ condition: 'inDoubt' }),
        () => ({ condition: 'spoilt' }),
        () => ({ doubts: [{ kind: 'blob', doubt: 'oneReading', fromOuterMm: 1, toOuterMm: 2 }], doubtfulMm: 12 }),
        () => ({ unknownMm: 400 }),
        () => ({ named: true, name: 'For the tall vase with the long and winding name, green' }),
        () => ({ grams: null, gramsUncertainty: null }),
        () => ({ lengthMm: 331_000, lengthUncertaintyMm: 3310 }),
        () => ({
          repair: { outerMm: 120, innerMm: 30, leftMm: 9000, sentence: 'Cut it back.' },
          condition: 'spoilt',
          unknownMm: 400,
        }),
        ({ code }) => ({ code: `${code}B`, state: 'planned' }),
      ];
      const page = await open('/first-evening');
      await page.route('**/api/spools/1/coils', async (route) => {
        const [first] = (await (await route.fetch()).json()) as CoilDetail[];
        const json = kinds.map((kind, i) => {
          const code = `${first!.coil.code.slice(0, -1)}${String.fromCharCode(65 + i)}`;
          const coil = { ...first!.coil, code, ordinal: i + 1 };
          return { ...first!, coil: { ...coil, ...kind(coil) } };
        });
        await route.fulfill({ json });
      });
      await page.goto(`${service.address}/spool/1/label`);
      await page.getByRole('radio', { name: 'its 10 coils' }).check();
      for (const { text, name, onSheet } of casesOf(LABEL_SIZES, 1)) {
        await page.getByRole('radio', { name: text }).check();
        expect(await page.locator(`.label.${name}`).count()).toBe(kinds.length);
        expect(await cutLines(page)).toEqual([]);
        const sheets = await printed(page);
        expect(sheets).toHaveLength(onSheet === null ? kinds.length : 1);
        const codes = await codePlaces(page);
        for (let i = 0; i < kinds.length; i += 1) {
          const [wideMm, highMm, columns, topMm] = PLACES[name];
          const place = onSheet === null ? 0 : i;
          const [left, top] = [(place % columns) * wideMm, topMm + Math.floor(place / columns) * highMm];
          const code = codes[i]!;
          const area = [left + code.leftMm, top + code.topMm, code.sideMm, code.sideMm] as const;
          const label = blackAndWhite(sheets[onSheet === null ? i : 0]!, area);
          expect([name, i, readCode(label.data, label.width, label.height)?.data]).toEqual([
            name,
            i,
            expect.stringMatching(new RegExp(`/C/[0-9A-Z]{3}-R1-1-${String.fromCharCode(65 + i)}B?$`)),
          ]);
        }
      }
    },
  );

  test('leads to the page of its coil, with trace, feeding end and printers', async () => {
    const [first] = (await plan()).coils;
    const page = await open(`/C/${first!.code}`, { viewport: PHONE });
    await page.getByTestId('labelled').getByText(first!.name).first().waitFor();
    await page.locator('.labelled-trace .trace').waitFor();
    await page.getByText(/the end that was cut last is outside and feeds first/).waitFor();
    await page.getByText(/This line’s limits:/).waitFor();
    const faults = [stateFaults, thumbFaults].map((look) => look(page, 'a coil'));
    expect((await Promise.all(faults)).flat()).toEqual([]);
  });

  test.skipIf(!IS_LONG_CHECK)(
    'shows the material entered on the page of the run, and the note on the spool',
    async () => {
      const runPage = await open('/runs/1');
      await runPage.getByRole('button', { name: 'Add material…' }).click();
      await runPage.getByLabel('Name of the material').fill('Grey supports');
      await runPage.getByLabel('Anything else that was done').fill('sieved, dried 8 h at 50 °C');
      await runPage.getByRole('button', { name: 'Save', exact: true }).click();
      await runPage.getByTestId('lot').getByText('Grey supports: sieved, dried 8 h at 50 °C').waitFor();

      const page = await open('/spool/1');
      await page.getByRole('textbox', { name: 'Your note on this spool' }).fill('for the garden gate');
      await page.getByRole('button', { name: 'Save the note' }).click();
      await page.getByText('Note saved.').waitFor();
      expect(await textOf(page.locator('.page-head'))).toContain('Material: Grey supports');

      await page.goto(`${service.address}/spool/1/label`);
      await page.getByRole('radio', { name: 'the spool' }).check();
      const label = textOf(page.getByTestId('label'));
      expect(await label).toContain('Material: Grey supports: sieved, dried 8 h at 50 °C');
      expect(await label).toContain('for the garden gate');
    },
  );

  test.skipIf(!IS_LONG_CHECK)('keeps the note in place if the judgement arrives during typing', async () => {
    const page = await open('/printers');
    const release = await holdAnswers(page, '**/judgement*');
    await page.goto(`${service.address}/spool/1`);
    const note = page.getByRole('textbox', { name: 'Your note on this spool' });
    await note.fill('for the garden gate, the blue');
    const topPx = async () => (await note.boundingBox())!.y;
    const before = await topPx();
    // A skeleton takes the place of what the judgement brings, about as high.
    const highPx = () => page.evaluate(() => document.documentElement.scrollHeight);
    await page.locator('.part-coming').first().waitFor();
    const comingPx = await highPx();
    release();
    await page.locator('.part-coming').first().waitFor({ state: 'detached' });
    await page.locator('#control figure').waitFor();
    expect(await topPx()).toBe(before);
    const ratio = (await highPx()) / comingPx;
    expect(ratio).toBeGreaterThan(0.85);
    expect(ratio).toBeLessThan(1.15);
    expect(await note.inputValue()).toBe('for the garden gate, the blue');
  });

  test.skipIf(!IS_LONG_CHECK)('exists for each coil, under its name', async () => {
    const page = await open('/spool/1/label');
    await page.getByRole('radio', { name: 'its 3 coils' }).check();
    await until(
      () => page.getByTestId('label').count(),
      (n) => n === 3,
      'three labels',
      JUDGED_WITHIN_MS,
    );
    const { coils } = await plan();
    for (const [i, { name, lengthMm }] of coils.entries()) {
      const label = await textOf(page.getByTestId('label').nth(i));
      expect(label).toContain(name);
      expect(label).toContain(`${(lengthMm / 1000).toFixed(1)}\u00a0±`);
    }
  });
});

describe('the shelf', () => {
  const shelf = async () => (await service.get<StockView>('/api/stock')).items;

  test.skipIf(!IS_LONG_CHECK)('answers which coil fits a print, records what was used, and undoes it', async () => {
    const [first] = await shelf();
    const { page, complaints: consoleErrors } = await opened.open('/stock');
    await page.getByLabel('The print needs').fill('2');
    await page.getByRole('radio', { name: 'metres' }).first().check({ force: true });
    await page.getByRole('button', { name: 'Which one fits?' }).click();
    await page
      .getByTestId('stock-fit')
      .getByText(/will be left/)
      .first()
      .waitFor();
    await page.getByRole('button', { name: `Record use of ${first!.name}` }).click();
    await page.getByLabel(`Used from ${first!.name}`).fill('500');
    await page.getByRole('button', { name: 'Record 500 m used' }).click();
    // At the field, with how much there is.
    await page.getByText(/left, not 500 m/).waitFor();
    // The browser reports the refused request, and nothing else.
    expect(consoleErrors.splice(0)).toEqual([expect.stringMatching(/status of 400/)]);
    await page.getByLabel(`Used from ${first!.name}`).fill('1.5');
    await page.getByRole('button', { name: 'Record 1.5 m used' }).click();
    await page.getByText(`Recorded 1.5 m used from ${first!.name}.`).waitFor();
    expect((await shelf())[0]!.leftMm).toBe(first!.leftMm - 1500);
    await page.getByRole('button', { name: 'Undo' }).click();
    await page.getByText(/^Undone\./).waitFor();
    expect((await shelf())[0]!.leftMm).toBe(first!.leftMm);
    expect(await stateFaults(page, 'the shelf')).toEqual([]);
  });

  test('a print is noted in two taps from the label, and the place of a jam is shown, on a phone', async () => {
    const [first] = await shelf();
    const page = await open(`/c/${first!.code}`, { viewport: PHONE });
    await page.getByRole('button', { name: 'Started', exact: true }).click();
    await page.getByRole('button', { name: 'Save “started”' }).click();
    await page
      .getByTestId('print-entries')
      .getByText(/^Started/)
      .waitFor();
    await page.getByRole('button', { name: 'Jammed', exact: true }).click();
    await page.getByLabel('It jammed at about (if known)').fill('2');
    await page.getByRole('button', { name: 'Save “jammed”' }).click();
    // 5 % of 2 m, and the 2 % of a length not measured by tape.
    await page
      .getByTestId('print-mark')
      .getByText('Jammed 2.0\u00a0±\u00a00.1\u00a0m from the end that feeds.')
      .waitFor();
    expect(await stateFaults(page, 'a coil with a jam')).toEqual([]);
    await page.goto(`${service.address}/stock`);
    await page
      .getByTestId('promises')
      .getByRole('row', { name: /Fit to print 0 1 0 0/ })
      .waitFor();
    expect(await stateFaults(page, 'the shelf on a phone')).toEqual([]);
  });
});

describe('on paper', () => {
  /** Number of sheets that the browser prints. */
  const sheets = async (page: Page): Promise<number> =>
    ((await page.pdf({ preferCSSPageSize: true })).toString('latin1').match(/\/Type\s*\/Page\b(?!s)/g) ?? []).length;

  test.skipIf(!IS_LONG_CHECK)(
    'prints the report of a run and of a spool on two sheets at most, and the first evening on one, without navigation and buttons',
    async () => {
      for (const [path, ready, text, sheetsMax] of [
        ['/runs/1', '[data-testid=run-spool-verdict]', /2\.0\d\d/, 2],
        ['/spool/1', '[data-testid=cross-section]', /2\.0\d\d/, 2],
        ['/first-evening', '.first-steps', /licensed electrician/, 1],
      ] as const) {
        const page = await open(path);
        await page.locator(ready).first().waitFor();
        await page.emulateMedia({ media: 'print' });
        for (const gone of ['.masthead', '.footer', 'button.main']) {
          for (const one of await page.locator(gone).all()) expect(await one.isVisible()).toBe(false);
        }
        expect(await textOf(page.locator('main'))).toMatch(text);
        const printed = await sheets(page);
        expect(printed).toBeGreaterThanOrEqual(1);
        expect(printed).toBeLessThanOrEqual(sheetsMax);
      }
    },
  );

  test.skipIf(!IS_LONG_CHECK)('prints labels alone, as large as their paper', async () => {
    const page = await open('/spool/1/label');
    await page.getByRole('radio', { name: 'the spool' }).check();
    await page.getByTestId('label').waitFor();
    await page.emulateMedia({ media: 'print' });
    expect(await page.locator('.masthead').isVisible()).toBe(false);
    expect(await page.locator('.label-choices').isVisible()).toBe(false);
    expect(await page.getByTestId('label').isVisible()).toBe(true);
    expect(await sheets(page)).toBe(1);
  });
});
