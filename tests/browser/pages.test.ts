/**
 * The pages in a real browser, on a live line: a scripted network board winds a strand, with a blob where the test
 * puts it.
 */
import type { BrowserContextOptions, Locator, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test, vi } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { RunView, SectionView, SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { listenLive } from '../service/live-listener.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { ScriptedBoard, type Stretch } from '../service/scripted-board.ts';
import {
  contrastFaults,
  DESKTOP,
  holdAnswers,
  PHONE,
  pageFaults,
  sharedBrowser,
  shiftFaults,
  type TestBrowser,
  withoutLostService,
  zoomFaults,
} from './browser.ts';
import { OpenedPages } from './opened-pages.ts';

// A busy machine is slow to start processes. What must be quick has its own limit.
vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

const PATH_MM = 400;
const SPEED_MM_PER_S = 200;
const PITCH_MM = SPEED_MM_PER_S / 50;
const EDGE_TOLERANCE_MM = 20 + PITCH_MM;

let board: ScriptedBoard;
let service: RunningService;
let browser: TestBrowser;
let dataFolder: string;
const opened = new OpenedPages(
  () => browser,
  () => service.address,
);

const textOf = async (one: Locator): Promise<string> => (await one.textContent()) ?? '';
const state = () => service.get<LiveState>('/api/state');
const spool = async () => service.get<SpoolDetail>(`/api/spools/${(await state()).spool!.id}`);

const open = (path: string, options: BrowserContextOptions = {}) => opened.open(path, options);

beforeAll(async () => {
  dataFolder = newDataFolder();
  board = await new ScriptedBoard().start();
  board.measured.speedMmPerS = SPEED_MM_PER_S;
  [service, browser] = await Promise.all([
    startService({ source: board.source, dataFolder, args: ['--log', 'warn'] }),
    sharedBrowser(),
  ]);
  // Winding must not start automatically, however long the first pages take.
  await service.send('PUT', '/api/settings', { gaugeToWinderMm: PATH_MM, settleLengthMm: 100_000 });
  await until(state, (s) => s.now.diameterMm !== null && s.link.phase === 'open', 'readings');
});

afterEach(async () => {
  expect(withoutLostService(await opened.close())).toEqual([]);
});

afterAll(async () => {
  await browser?.close();
  await service?.remove();
  await board?.stop();
});

/** The board's length counter in the last line that the service received. It may lag behind the board. */
const lengthHeard = (s: LiveState) => Number(/ len=([0-9.]+)/.exec(s.link.lastLine)?.[1]);
/** The range of that counter in which winding was started. */
let windingFromMm: number;
let windingToMm: number;
let blob: Stretch;

describe('live', () => {
  test('shows the diameter as the gauge reads it, and the headline of the service', async () => {
    const { page } = await open('/');
    const shown = page.getByTestId('diameter-now');
    await shown.waitFor();
    const seen = new Set<string>();
    await until(
      async () => seen.add(await textOf(shown)),
      (all) => all.size >= 3,
      'three different diameters',
    );
    for (const text of seen) expect(Number(text)).toBeCloseTo(1.75, 1);
    const sentence = page.getByTestId('sentence');
    await until(
      async () => [await textOf(sentence), (await state()).sentence],
      ([onPage, ofService]) => onPage?.replaceAll('\u00a0', ' ') === ofService,
      "the service's sentence on the page",
    );
    // More than the noise of the gauge.
    board.measured.diameterMm = 1.78;
    await until(
      () => textOf(shown),
      (text) => Math.abs(Number(text) - 1.78) < 0.01,
      'the new diameter',
      3000,
    );
    board.measured.diameterMm = 1.75;
  });

  test('starts winding with a press', async () => {
    const { page } = await open('/');
    await page.getByTestId('stage').waitFor();
    const before = await state();
    expect(before.spool).toBeNull();
    windingFromMm = lengthHeard(before);
    await page
      .getByTestId('stage')
      .getByRole('button', { name: /winding/i })
      .click();
    const now = await until(
      state,
      (s) => s.stage.stage === 'winding' && s.stage.setByUser && s.spool !== null,
      'winding',
    );
    windingToMm = lengthHeard(await state());
    expect(windingToMm).toBeGreaterThan(windingFromMm);
    expect(now.spool!.ordinal).toBe(1);
    await page.locator('[data-testid=stage][data-stage=winding][data-by=person]').waitFor();
    // Nothing asks for an answer, so there is room for the spool so far.
    expect(await textOf(page.getByTestId('spool-so-far'))).toMatch(/^Nothing to cut out so far\d+\sm \(full\)/);
  });

  test('shows the alarm of a blob within a second of the service, also in the title', async () => {
    const { page } = await open('/');
    await page.getByTestId('diameter-now').waitFor();
    const calm = await page.title();
    const live = await listenLive(service.address);
    const shown = page.locator('[data-testid=alarm][data-type=blob][data-state=unacknowledged]').waitFor();
    const shownAt = shown.then(() => performance.now());
    blob = board.stretch(30, 2.05);
    const raised = await live.state((s) => s.alarms.some((one) => one.type === 'blob'), 'the alarm');
    live.close();
    expect((await shownAt) - raised.atMs).toBeLessThan(1000);
    await until(
      () => page.title(),
      (title) => title !== calm && /blob/i.test(title),
      'the title',
      3000,
    );
    expect(await textOf(page.locator('[data-testid=alarm][data-type=blob]'))).toMatch(/Check first:/);
    expect(await textOf(page.getByTestId('sentence'))).toMatch(/blob/i);
  });

  test('acknowledges an alarm with one click', async () => {
    const { page } = await open('/');
    const alarm = page.locator('[data-testid=alarm][data-type=blob]');
    await alarm.getByTestId('acknowledge').click();
    await page.locator('[data-testid=alarm][data-type=blob][data-state=acknowledged]').waitFor();
    expect(await alarm.getByTestId('acknowledge').count()).toBe(0);
    expect((await state()).alarms.find((one) => one.type === 'blob')).toMatchObject({ state: 'acknowledged' });
    // Only now, and once on this device: an answer does not wait for a name.
    const name = page.getByLabel(/What is your name, for the journal/);
    await name.fill('Ada');
    await page.getByRole('button', { name: 'Save' }).click();
    await page.getByText('recorded as Ada from now on').waitFor();
    expect(await name.count()).toBe(0);
    expect(await page.evaluate(() => ({ ...localStorage }))).toMatchObject({
      'strandward.person': 'Ada',
      'strandward.person.asked': 'yes',
    });
  });

  test('takes a blob off the spool that was cut out, and puts it back, on the first screen of a phone', async () => {
    const { page, complaints } = await open('/', { viewport: PHONE });
    const choices = page.getByTestId('blob-choices');
    await choices.waitFor();
    const { y, height } = (await choices.boundingBox())!;
    expect(y + height).toBeLessThan(PHONE.height / 2);
    // What to do follows the cause at once, above the buttons.
    const cause = (await page.getByTestId('sentence').boundingBox())!;
    const instruction = (await page.getByTestId('what-to-do').locator('.instruction').boundingBox())!;
    expect(instruction.y - cause.y - cause.height).toBeLessThan(20);
    const before = (await state()).spool!;
    await choices.getByRole('button', { name: 'Cut out the blob' }).press('Enter');
    await choices.locator('button:focus', { hasText: 'Done' }).waitFor();
    await choices.getByLabel('Cut out, ends joined').fill('200');
    await choices.getByRole('button', { name: 'Done' }).click();
    const cut = await until(state, (s) => s.sections.some(({ kind }) => kind === 'joint'), 'the joint');
    const [{ fromMm, toMm } = { fromMm: 0, toMm: 0 }] = cut.spool!.cutOuts;
    expect(toMm - fromMm).toBeCloseTo(200, 0);
    expect(cut.sections.some(({ kind }) => kind === 'blob')).toBe(false);
    const undo = page.locator('.toast').getByRole('button', { name: 'Undo' });
    const lines = await undo.evaluate(({ firstChild }) => {
      const range = document.createRange();
      range.selectNode(firstChild!);
      return range.getClientRects().length;
    });
    expect(lines).toBe(1);
    await undo.click();
    const back = await until(state, (s) => s.sections.some(({ kind }) => kind === 'blob'), 'the blob');
    expect(back.spool!.cutOuts).toEqual([]);
    expect(back.spool!.woundMm).toBeGreaterThanOrEqual(before.woundMm);

    // Another device is faster with the undo of the next decision.
    await choices.getByRole('button', { name: 'Leave the blob on the spool' }).click();
    await undo.waitFor();
    const { id } = back.sections.find(({ kind }) => kind === 'blob')!;
    await service.send('DELETE', `/api/spools/${back.spool!.id}/sections/${id}/decision`);
    await undo.click();
    await page.getByText('There is nothing to undo: someone undid it on another page.').waitFor();
    expect(complaints.splice(0).filter((text) => !/status of 409/.test(text))).toEqual([]);
  });
});

describe('spool', () => {
  const ribbon = (page: Page) => page.getByTestId('ribbon');
  const save = (page: Page) => page.locator('.section-editor button[type=submit]');
  const marked = async () => (await spool()).sections.filter((one) => one.origin === 'user');

  async function openSpool(): Promise<Page> {
    const { page } = await open('/spool');
    await ribbon(page).locator('[data-row="0"] canvas').waitFor();
    // It is above the ribbon. Once it is there, nothing moves under the pointer any more.
    await page.locator('[data-testid=spool-verdict]').waitFor();
    return page;
  }

  /** Presses Tab until the focus is there, as users without a pointer do. */
  async function tabTo(page: Page, selector: string): Promise<void> {
    for (let i = 0; i < 40; i++) {
      if (await page.locator(`${selector}:focus`).count()) return;
      await page.keyboard.press('Tab');
    }
    throw new Error(`Tab does not lead to ${selector}`);
  }

  test('marks the blob on the ribbon at the metre where the board sent it', async () => {
    await until(
      spool,
      (s) => s.sections.some((one) => one.kind === 'blob' && !one.open && one.toSpoolMm! < s.spool.woundMm),
      'the blob on the spool',
    );
    const page = await openSpool();
    const row = page.locator('[data-testid=section-row][data-kind=blob]').first();
    await row.waitFor();
    const fromMm = Number(await row.getAttribute('data-from-mm'));
    const toMm = Number(await row.getAttribute('data-to-mm'));
    expect(fromMm).toBeGreaterThan(blob.fromMm - windingToMm + PATH_MM - EDGE_TOLERANCE_MM);
    expect(fromMm).toBeLessThan(blob.fromMm - windingFromMm + PATH_MM + EDGE_TOLERANCE_MM);
    expect(Math.abs(toMm - fromMm - 30)).toBeLessThan(2 * EDGE_TOLERANCE_MM);

    // The mark is in its row, at its share of the row's length.
    const rowMm = Number(await ribbon(page).getAttribute('data-row-mm'));
    const at = Math.floor(fromMm / rowMm);
    const strand = ribbon(page).locator(`[data-row="${at}"] .row-strand`);
    const [outer, inner] = [await strand.boundingBox(), await strand.locator('.mark.discard').last().boundingBox()];
    const shownMm = at * rowMm + ((inner!.x - outer!.x) / outer!.width) * rowMm;
    expect(Math.abs(shownMm - fromMm)).toBeLessThan(5 + (3 * rowMm) / outer!.width);
    expect(Number(await page.getByTestId('discard-total').getAttribute('data-mm'))).toBeCloseTo(toMm - fromMm, 0);
  });

  test.skipIf(!IS_LONG_CHECK)('adds, adjusts and removes a stretch by keyboard alone', async () => {
    const page = await openSpool();
    await tabTo(page, '[data-testid=ribbon]');
    await page.keyboard.press('Home');
    for (let i = 0; i < 5; i++) await page.keyboard.press('ArrowRight');
    for (let i = 0; i < 3; i++) await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Enter');
    await page.locator('#draft-from:focus').waitFor();
    const fromMm = Number(await page.locator('#draft-from').inputValue()) * 1000;
    const toMm = Number(await page.locator('#draft-to').inputValue()) * 1000;
    expect(toMm).toBeGreaterThan(fromMm);
    await tabTo(page, '.section-editor button[type=submit]');
    await page.keyboard.press('Enter');
    const [made] = await until(marked, (all) => all.length === 1, 'the section');
    expect(made).toMatchObject({ verdict: 'discard', kind: 'marked' });
    expect(made!.fromSpoolMm).toBeCloseTo(fromMm, -1);
    expect(made!.toSpoolMm).toBeCloseTo(toMm, -1);

    await page.locator(`[data-section=${made!.id}]`).waitFor();
    await tabTo(page, `[data-section=${made!.id}] .section-open`);
    await page.keyboard.press('Enter');
    await page.locator('#draft-to').waitFor();
    // Away from its ends a key only moves the cursor, and shows what was measured there.
    await ribbon(page).focus();
    const endBefore = await page.locator('#draft-to').inputValue();
    for (const key of ['ArrowRight', 'Shift+ArrowRight']) await page.keyboard.press(`Alt+${key}`);
    expect(await page.locator('#draft-to').inputValue()).toBe(endBefore);
    await page
      .getByTestId('cursor-value')
      .getByText(/^\d\.\d{3}.*mm/)
      .waitFor();
    await page.locator('#draft-to').focus();
    await page.keyboard.press('ControlOrMeta+a');
    await page.keyboard.type(((toMm + 20) / 1000).toFixed(3));
    await tabTo(page, '.section-editor button[type=submit]');
    await page.keyboard.press('Enter');
    const [longer] = await until(marked, ([one]) => one!.toSpoolMm! > toMm + 10, 'the adjusted section');
    expect(longer!.toSpoolMm).toBeCloseTo(toMm + 20, -1);
    expect(longer!.fromSpoolMm).toBeCloseTo(fromMm, -1);

    await page.locator(`[data-section=${longer!.id}]`).waitFor();
    await tabTo(page, `[data-section=${longer!.id}] button.plain`);
    await page.keyboard.press('Enter');
    await until(marked, (all) => all.length === 0, 'it gone');
  });

  test('adds, adjusts, removes and restores a stretch by pointer', async () => {
    const page = await openSpool();
    const rowMm = Number(await ribbon(page).getAttribute('data-row-mm'));
    const first = ribbon(page).locator('[data-row="0"] .row-strand');
    await first.hover();
    const box = (await first.boundingBox())!;
    const pixelMm = rowMm / box.width;
    const woundMm = Math.min(rowMm, (await spool()).spool.woundMm);
    const [fromMm, toMm] = [woundMm * 0.1, woundMm * 0.2];
    const y = box.y + box.height / 2;
    await page.mouse.move(box.x + fromMm / pixelMm, y);
    await page.mouse.down();
    await page.mouse.move(box.x + (fromMm + toMm) / 2 / pixelMm, y, { steps: 3 });
    await page.mouse.move(box.x + toMm / pixelMm, y, { steps: 3 });
    await page.mouse.up();
    await page.locator('.section-editor').getByRole('radio', { name: 'Doubtful' }).check();
    await save(page).click();
    const [made] = await until(marked, (all) => all.length === 1, 'the section');
    expect(Math.abs(made!.fromSpoolMm! - fromMm)).toBeLessThan(3 * pixelMm + 1);
    expect(Math.abs(made!.toSpoolMm! - toMm)).toBeLessThan(3 * pixelMm + 1);
    expect(made!.verdict).toBe('doubtful');

    await page.locator(`[data-section=${made!.id}] .section-open`).click();
    await page.locator('.section-editor').getByRole('radio', { name: 'Discard' }).check();
    await save(page).click();
    const [adjusted] = await until(marked, ([one]) => one!.verdict === 'discard', 'the new verdict');
    await page
      .locator(`[data-section=${adjusted!.id}]`)
      .getByRole('button', { name: /^Remove/ })
      .click();
    await until(marked, (all) => all.length === 0, 'it gone');
    await page.getByRole('button', { name: 'Undo' }).click();
    await until(marked, (all) => all.length === 1, 'it back');
  });

  test.skipIf(!IS_LONG_CHECK)('does not move the ribbon under the pointer when the judgement arrives', async () => {
    const { page } = await open('/printers');
    const release = await holdAnswers(page, '**/judgement*');
    await page.goto(`${service.address}/spool`);
    await page.locator('[data-testid=spool-verdict]').waitFor();
    const topPx = async () => (await ribbon(page).boundingBox())!.y;
    const before = await topPx();
    release();
    await page.locator('.parts').waitFor();
    await page
      .getByTestId('spool-verdict')
      .locator('li:not(.reason-coming)')
      .filter({ hasText: /% of what was measured lies/ })
      .waitFor();
    expect(await topPx()).toBe(before);
  });

  test.skipIf(!IS_LONG_CHECK)(
    'keeps a section open, with its typed note, when the save of another one ends',
    async () => {
      const page = await openSpool();
      const release = await holdAnswers(page, '**/sections');
      await ribbon(page).focus();
      for (let i = 0; i < 10; i++) await page.keyboard.press('ArrowRight');
      await page.keyboard.press('Enter');
      await save(page).click();
      // The page reads the new section before it gets the answer to the save.
      const both = await until(marked, (all) => all.length === 2, 'the second section');
      const made = both.find((one) => one.fromSpoolMm! > 500);
      await page.locator(`[data-section=${made!.id}] .section-open`).click();
      const note = page.locator('.section-editor').getByRole('textbox', { name: 'Note' });
      await note.fill('where the hopper ran empty');
      release();
      await page.getByText('Stretch marked.').waitFor();
      expect(await note.inputValue()).toBe('where the hopper ran empty');
      await page.getByRole('button', { name: 'Undo' }).click();
      await until(marked, (all) => all.length === 1, 'only the first section');
      expect(await note.inputValue()).toBe('where the hopper ran empty');
    },
  );

  test('keeps what is typed while a name is saved, and says what of a pasted text did not fit', async () => {
    const { page } = await open('/spool');
    await page.getByTestId('spool-title').locator('summary').click();
    const name = page.getByRole('textbox', { name: /^Name of spool/ });
    await name.fill('First');
    const release = await holdAnswers(page, '**/title');
    await page.getByRole('button', { name: 'Save the name' }).click();
    await until(spool, (now) => now.spool.title === 'First', 'the name in the record');
    await name.fill('First night');
    release();
    await page.getByText('Named “First”.').waitFor();
    expect(await name.inputValue()).toBe('First night');

    await page.context().grantPermissions(['clipboard-read', 'clipboard-write']);
    await page.evaluate(() => navigator.clipboard.writeText('x'.repeat(90)));
    await name.focus();
    await page.keyboard.press('Control+V');
    // After “First night”, 69 of 90 fit.
    await page
      .getByText('This field takes 80 characters. The last 21 characters of the pasted text did not fit.')
      .waitFor();
    expect((await name.inputValue()).length).toBe(80);
  });
});

describe('set-up', () => {
  const save = (page: Page) => page.getByRole('button', { name: 'Save the settings' });

  test('saves a change and keeps what is typed meanwhile; reports a wrong value at its field and saves nothing', async () => {
    const { page } = await open('/set-up');
    await page.getByText('More settings').click();
    await page.locator('#set-lineName').fill('Bench by the window');
    const release = await holdAnswers(page, '**/api/settings');
    await save(page).click();
    await until(state, (s) => s.lineName === 'Bench by the window', 'the new name');

    // Typed before the page knows that the name is saved.
    await page.locator('#set-toleranceMm').fill('wide');
    await page.locator('#set-toleranceMm').press('Tab');
    await page.locator('#set-toleranceMm-fault').waitFor();
    release();
    await page.getByText('Settings saved.').waitFor();
    expect(await page.locator('#set-toleranceMm').inputValue()).toBe('wide');
    expect(await page.locator('#set-lineName').inputValue()).toBe('Bench by the window');
    expect(await page.locator('#set-toleranceMm').getAttribute('aria-describedby')).toContain('set-toleranceMm-fault');
    await save(page).click();
    expect(await page.locator('#set-toleranceMm').getAttribute('aria-invalid')).toBe('true');
    await page.locator('#set-toleranceMm:focus').waitFor();
    expect(await page.getByText('Settings saved.').count()).toBe(0);
    expect((await state()).limits.toleranceMm).toBe(0.05);
    expect(await textOf(page.getByTestId('last-line'))).toMatch(/^ms=\d+ n=\d+ /);
  });

  test.skipIf(!IS_LONG_CHECK)('shows what only the service can check, and saves nothing', async () => {
    const { page, complaints } = await open('/set-up');
    await page.locator('#set-hotendLimitMm').fill('1.7');
    await save(page).click();
    await page
      .getByText(/wrong order/)
      .first()
      .waitFor();
    expect((await state()).limits.hotendLimitMm).toBe(1.9);
    // The browser logs the refused request.
    expect(complaints.splice(0).filter((text) => !/status of 400/.test(text))).toEqual([]);
  });
});

/** Pages that are looked at before a release. Some need many nights to show much; so here mostly their frames are. */
const MORE_PAGES = IS_LONG_CHECK ? ['/wall', '/spools', '/trends', '/next', '/preparation'] : [];

describe('every page', () => {
  test.each(
    casesOf(
      [
        ['dark', 'light', 'phone', PHONE],
        ['light', 'dark', 'desktop', DESKTOP],
      ],
      1,
    ),
  )(
    'has no serious WCAG 2.2 AA violations and fits its width: %s and %s, %s',
    { timeout: 240_000 },
    async (colorScheme, other, _device, viewport) => {
      const { page } = await open('/', { colorScheme, viewport });
      const run = (await state()).run!.id;
      const faults: string[] = [];
      for (const path of ['/', '/spool', '/runs', `/runs/${run}`, '/set-up', ...MORE_PAGES]) {
        await page.goto(service.address + path);
        await page.locator('h1').first().waitFor();
        await page.waitForFunction(
          () => !/Fetching|Asking the service|Looking for/.test(document.body.textContent ?? ''),
        );
        // The headline of a live line may change at any time; a report of a run that goes on, some seconds later.
        if (path !== '/' && path !== '/wall') faults.push(...(await shiftFaults(page, path)));
        faults.push(...(await pageFaults(page, path)));
        faults.push(...(await zoomFaults(page, path)), ...(await contrastFaults(page, path, other)));
      }
      expect(faults).toEqual([]);
    },
  );

  test.skipIf(!IS_LONG_CHECK)('uses the chosen colours, also on canvases, whatever the device prefers', async () => {
    const { page } = await open('/', { colorScheme: 'dark' });
    const choose = (text: string) => page.getByRole('radio', { name: text, exact: true }).check({ force: true });
    const paper = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
    const DARK = 'rgb(14, 20, 19)';
    const LIGHT = 'rgb(245, 247, 245)';
    const drawnIn = async (colour: string) => {
      expect(await paper()).toBe(colour);
      await page.waitForFunction(inkIsDrawn, '.strand-trace canvas');
    };
    await page.locator('.strand-trace canvas').waitFor();
    await drawnIn(DARK);
    await choose('Light');
    await drawnIn(LIGHT);
    await page.emulateMedia({ colorScheme: 'light' });
    await choose('Dark');
    await drawnIn(DARK);
    await page.emulateMedia({ media: 'print' });
    expect(await paper()).toBe('rgb(255, 255, 255)');
    await page.emulateMedia({ media: 'screen' });
    await choose('As the device');
    await drawnIn(LIGHT);
  });

  test.skipIf(!IS_LONG_CHECK)('appears even if its code arrives before the frame is painted', async () => {
    const { page } = await open('/');
    await page.addInitScript(paintLate);
    await page.goto(`${service.address}/runs`);
    await page.locator('h1').first().waitFor({ timeout: 10_000 });
  });
});

/** Runs in the page: whether a canvas has pixels of exactly the text colour. */
function inkIsDrawn(selector: string): boolean {
  const canvas = document.querySelector<HTMLCanvasElement>(selector);
  if (canvas === null) return false;
  const [red, green, blue] = getComputedStyle(document.body).color.match(/\d+/g)!.map(Number);
  const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height);
  for (let i = 0; i < data.length; i += 4) {
    if (data[i] === red && data[i + 1] === green && data[i + 2] === blue && data[i + 3] === 255) return true;
  }
  return false;
}

/** Runs in the page: its texts that are smaller than `leastPx`, except the link that shows only under the pointer. */
function smallTexts(leastPx: number): string[] {
  const texts = document.createTreeWalker(document.getElementById('page')!, NodeFilter.SHOW_TEXT);
  const small: string[] = [];
  while (texts.nextNode()) {
    const parent = texts.currentNode.parentElement!;
    if (parent.closest('.wall-back') || !parent.checkVisibility() || texts.currentNode.textContent?.trim() === '')
      continue;
    const px = Number.parseFloat(getComputedStyle(parent).fontSize);
    // Sizes in the style sheet are rounded.
    if (px < leastPx - 0.1) small.push(`${px} px: ${texts.currentNode.textContent}`);
  }
  return small;
}

/** Runs before the page's own code: makes everything that waits for a painted frame wait long. */
function paintLate(): void {
  const later = window.setTimeout.bind(window);
  const LATE_MS = 1000;
  window.requestAnimationFrame = (then) => later(() => then(performance.now()), LATE_MS);
  const wait = (then: () => void, ms = 0) => later(then, ms > 0 && ms < LATE_MS ? LATE_MS : ms);
  window.setTimeout = wait as typeof window.setTimeout;
}

describe('a lost connection', () => {
  test('to the service: the last state looks old, shows its age, and stops counting down', async () => {
    const { page } = await open('/');
    const status = page.getByTestId('diameter-status');
    await until(
      () => textOf(status),
      (text) => text !== '' && !text.includes('old'),
      'values of now',
    );
    board.measured.talks = false;
    try {
      await until(
        () => textOf(status),
        (text) => /^\d+ s old$/.test(text),
        'old values',
      );
      expect(await page.locator('.now.stale, .strand-figure.stale, .live-below.stale').count()).toBe(3);
      for (const text of await page.locator('.countdown').allTextContents())
        expect(text).toMatch(/^was here \d+ s ago$/);
    } finally {
      board.measured.talks = true;
    }
    await until(
      () => textOf(status),
      (text) => text === 'in tolerance',
      'values of now again',
    );
  });

  test.skipIf(!IS_LONG_CHECK)('is retried by one attempt at a time, however often the network comes back', async () => {
    const { page } = await browser.page();
    let sockets = 0;
    let cut: () => void = () => {};
    await page.routeWebSocket(/\/live/, (socket) => {
      sockets += 1;
      const service = socket.connectToServer();
      cut = () => {
        void socket.close();
        void service.close();
      };
    });
    await page.goto(service.address);
    await page.getByTestId('diameter-now').waitFor();
    // The state came with the page, so the connection may follow.
    await until(
      () => sockets,
      (n) => n === 1,
      'the connection',
    );

    const held: (() => void)[] = [];
    await page.route('**/api/state', (route) => {
      held.push(() => void route.continue().catch(() => {}));
    });
    cut();
    await page.getByTestId('connection-banner').waitFor();
    await until(
      () => held.length,
      (n) => n >= 1,
      'the first trial',
    );
    for (const _ of [1, 2, 3]) await page.evaluate(() => dispatchEvent(new Event('online')));
    await until(
      () => held.length,
      (n) => n >= 4,
      'a trial for each',
    );
    await page.unroute('**/api/state');
    for (const goOn of held) goOn();
    await page.getByTestId('connection-banner').waitFor({ state: 'detached' });
    await page.getByTestId('diameter-now').waitFor();
    expect(sockets).toBe(2);
    await page.context().close();
  });

  test.skipIf(!IS_LONG_CHECK)('before the page has loaded its code is reported by the page itself', async () => {
    const { page } = await browser.page();
    await page.route('**/assets/*.js', (route) => route.abort());
    await page.goto(service.address);
    await page.getByText('check that the service is running').waitFor();
    await page.unroute('**/assets/*.js');
    await page.reload();
    await page.getByTestId('diameter-now').waitFor();
    expect(await page.getByText('see that the service runs').count()).toBe(0);
    await page.context().close();
  });

  test('is reported by a banner until it is back, and the run is still there', { timeout: 60_000 }, async () => {
    const { page } = await open('/');
    await page.getByTestId('diameter-now').waitFor();
    expect(await page.getByTestId('connection-banner').count()).toBe(0);
    const wall = (await open('/wall')).page;
    await wall.getByTestId('diameter-now').waitFor();
    // All code of both pages has been fetched.
    for (const one of [page, wall]) await one.locator('.strand-trace canvas').waitFor();
    const before = await spool();
    const banner = page.getByTestId('connection-banner');
    const topOf = async (one: Locator) => (await one.boundingBox())!.y;
    const strandTop = await topOf(page.locator('.strand-band'));
    const port = Number(new URL(service.address).port);
    await service.kill();
    await banner.waitFor({ timeout: 6000 });
    // It neither moves the strand nor covers the last headline.
    expect(await topOf(page.locator('.strand-band'))).toBeCloseTo(strandTop, 0);
    expect(await textOf(page.locator('.last-seen'))).toMatch(/^Last seen at \d\d:\d\d./);
    const { y, height } = (await banner.boundingBox())!;
    expect(await topOf(page.locator('.last-seen p'))).toBeGreaterThan(y + height);
    // On the wall the lost connection is the headline, and all of it fits on the screen.
    await wall.getByText(/^No connection to the service/).waitFor();
    expect(
      await wall.evaluate(() => [document.documentElement.scrollHeight, document.documentElement.clientHeight]),
    ).toEqual([DESKTOP.height, DESKTOP.height]);
    expect(await wall.evaluate(smallTexts, DESKTOP.height / 25)).toEqual([]);
    await until(
      () => page.title(),
      (title) => title === 'Connection lost – Strandward',
      'the title',
      3000,
    );
    service = await startService({ source: board.source, dataFolder, port, args: ['--log', 'warn'] });
    // The pauses between attempts grow up to 5 s.
    await page.getByTestId('connection-banner').waitFor({ state: 'detached', timeout: 10_000 });
    const shown = page.getByTestId('diameter-now');
    await until(
      () => textOf(shown),
      (text) => Math.abs(Number(text) - 1.75) < 0.05,
      'readings on the page',
    );

    // There is no verdict on a spool before one good piece is long enough.
    await until(
      () => service.get<RunView[]>('/api/runs'),
      ([run]) => run!.verdict.quality !== null,
      'a verdict on the run',
      40_000,
    );
    await page.getByRole('link', { name: 'Runs', exact: true }).first().click();
    const run = page.getByTestId('run').first();
    await run.waitFor();
    expect(await textOf(run)).toMatch(/1 blob/);
    await run.getByRole('link').click();
    await until(
      () => textOf(page.getByTestId('verdict')),
      (text) => /not known|good after cutting/i.test(text),
      'the verdict',
    );
    await until(
      () => textOf(page.locator('main')),
      (text) => /2\.05/.test(text),
      'the worst stretch',
    );
    const after = await service.get<SpoolDetail>(`/api/spools/${before.spool.id}`);
    const stated = ({ sections }: SpoolDetail) =>
      sections.filter((one: SectionView) => one.origin === 'user').map(({ id }) => id);
    expect(stated(before)).toHaveLength(1);
    expect(stated(after)).toEqual(stated(before));
  });
});

describe('the end of a run', () => {
  test('is asked for before a press ends it, and can be undone', async () => {
    const { page } = await open('/');
    const stages = page.getByTestId('stage');
    await stages.waitFor();
    const before = await state();
    await stages.getByRole('button', { name: 'Stopped' }).click();
    await page.getByRole('dialog').getByRole('button', { name: 'Keep it going' }).click();
    expect((await state()).stage.stage).toBe('winding');

    await stages.getByRole('button', { name: 'Stopped' }).click();
    await page.getByRole('dialog').getByRole('button', { name: 'End the run' }).click();
    await until(state, (s) => s.spool === null, 'the end of the spool');
    await page.getByRole('button', { name: 'Undo' }).click();
    const after = await until(state, (s) => s.spool !== null, 'the spool again');
    expect([after.run?.id, after.spool?.id]).toEqual([before.run?.id, before.spool?.id]);
    expect(after.spool!.startGaugeMm).toBe(before.spool!.startGaugeMm);
    expect(after.alarms.map(({ id }) => id)).toEqual(before.alarms.map(({ id }) => id));
  });
});
