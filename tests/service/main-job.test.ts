/**
 * The main job on real input: the reference firmware on an emulated microcontroller, a pseudo-terminal, the serial port
 * binding, the service. Positions are compared with the length that the board printed.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { RunDetail, SectionView, SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { type EmulatedBoard, startEmulatedBoard } from '../microcontroller/emulated-board.ts';
import { listenLive } from './live-listener.ts';
import { newDataFolder, type RunningService, startService, until } from './running-service.ts';

// Starting a process is slow on a busy machine; required speeds are measured separately.
vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

/** config.h of the firmware: 0.5 mm/V and 0.5 mm a pulse. */
const GOOD_MV = 3_500; // 1.750 mm
const BLOB_MV = 4_100; // 2.050 mm
const PULSES_HZ = 240; // 120 mm/s
const SPEED_MM_PER_S = 120;
const PITCH_MM = SPEED_MM_PER_S / 50;
const EDGE_TOLERANCE_MM = 20 + PITCH_MM;
const PATH_MM = 300;
/** A thermistor at about 200 °C (tests/microcontroller/measuring.test.ts). */
const WARM_MV = (5_000 * 288.17) / (288.17 + 4_700);

let folder: string;
let board: EmulatedBoard;
let dataFolder: string;
let service: RunningService;
const source = () => `serial:${board.linkPath}`;
const state = () => service.get<LiveState>('/api/state');

interface OwnLine {
  readonly ms: number;
  readonly len: number;
}

/** The board's own clock and length, from the line as it came. */
async function ownLine(): Promise<OwnLine> {
  const { link } = await state();
  const number = (name: string) => Number(new RegExp(`(?:^| )${name}=([0-9.]+)`).exec(link.lastLine)?.[1]);
  return { ms: number('ms'), len: number('len') };
}

/** The board's length at a time of its own clock: its pulses are even. */
const lengthAt = (line: OwnLine, ms: number) => line.len + ((ms - line.ms) / 1000) * SPEED_MM_PER_S;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'strandward-job-'));
  dataFolder = newDataFolder();
  board = await startEmulatedBoard({ linkPath: join(folder, 'tty') });
  // A quiet converter gives the same reading again and again.
  for (const input of [0, 1, 2, 3]) await board.noise(input, 2.5);
  await board.adc(0, GOOD_MV);
  for (const input of [1, 2, 3]) await board.adc(input, WARM_MV);
  await board.pulses(PULSES_HZ);
});

afterAll(async () => {
  await service?.remove();
  await board?.stop();
  rmSync(folder, { recursive: true, force: true });
  rmSync(dataFolder, { recursive: true, force: true });
});

describe('a line on a serial port, from its first reading to the marked spool', () => {
  let before: OwnLine;
  let after: OwnLine;
  let blob: SectionView;
  let marked: SectionView;
  let alarm: AlarmView;
  let runId: number;
  let spoolId: number;

  test('its readings arrive, understood and without a loss', async () => {
    service = await startService({ source: source(), dataFolder });
    // Prevents an automatic start of winding, however slow this machine is.
    const settings = { gaugeToWinderMm: PATH_MM, settleLengthMm: 100_000 };
    expect((await service.send('PUT', '/api/settings', settings)).status).toBe(200);
    const now = await until(state, (s) => s.link.readings > 50 && s.now.speedMmPerS !== null, 'readings');
    expect(now.link).toMatchObject({ phase: 'open', shape: 'named', checksum: 'required', timing: 'live', lost: 0 });
    // Opening throws away what had queued up, so that the first line may be a cut one.
    expect(Object.values(now.link.dropped).reduce((a, b) => a + b)).toBeLessThanOrEqual(2);
    expect(now.now.diameterMm).toBeCloseTo(1.75, 2);
    expect(now.now.speedMmPerS).toBeCloseTo(SPEED_MM_PER_S, 0);
    expect(now.zones.map((zone) => Math.round(zone.temperatureC ?? 0))).toEqual([200, 200, 200]);
    expect(now.alarms).toEqual([]);
  });

  test('a run has started automatically, and a user sets the stage to winding', async () => {
    await until(state, (s) => s.run !== null, 'a run');
    before = await ownLine();
    const answer = await service.send('POST', '/api/stage', { stage: 'winding' }, { 'strandward-by': 'Ada' });
    after = await ownLine();
    expect(answer).toMatchObject({ status: 200, body: { stage: 'winding', setByUser: true } });
    const now = await state();
    expect(now.spool).not.toBeNull();
    runId = now.run!.id;
    spoolId = now.spool!.id;
  });

  test('a blob beyond the hotend limit raises its alarm within a second', async () => {
    const live = await listenLive(service.address);
    const lines = await ownLine();
    const fromMs = await board.adc(0, BLOB_MV);
    const injectedMs = performance.now();
    await new Promise((resolve) => setTimeout(resolve, 120));
    const toMs = await board.adc(0, GOOD_MV);
    const raised = await live.state((s) => s.alarms.some((one) => one.type === 'blob'), 'the alarm');
    expect(raised.atMs - injectedMs).toBeLessThan(1000);
    alarm = raised.alarms.find((one) => one.type === 'blob')!;
    expect(alarm).toMatchObject({ priority: 'high', state: 'unacknowledged', occurrences: 1 });

    // Once complete and on the spool, its position matches the board: length since the winding start, plus the path.
    const done = await live.state(
      (s) => s.sections.some((one) => one.kind === 'blob' && !one.open && one.toSpoolMm! < s.spool!.woundMm),
      'the blob on the spool',
      15_000,
    );
    live.close();
    blob = done.sections.find((one) => one.kind === 'blob')!;
    expect(blob.verdict).toBe('discard');
    expect(blob.peakMm).toBeCloseTo(2.05, 2);
    for (const [shown, atMs] of [
      [blob.fromSpoolMm!, fromMs],
      [blob.toSpoolMm!, toMs],
    ] as const) {
      const len = lengthAt(lines, atMs);
      // The winding start is between two lines of the board.
      expect(shown).toBeGreaterThan(len - after.len + PATH_MM - EDGE_TOLERANCE_MM);
      expect(shown).toBeLessThan(len - before.len + PATH_MM + EDGE_TOLERANCE_MM);
    }
    const detail = await service.get<SpoolDetail>(`/api/spools/${spoolId}`);
    expect(detail.sections.filter((one) => one.kind === 'blob').map((one) => one.id)).toEqual([blob.id]);
    expect(detail.spool.discardMm).toBeCloseTo(blob.toSpoolMm! - blob.fromSpoolMm!, 0);
  });

  test('a user acknowledges it and marks a stretch', async () => {
    const answer = await service.send('POST', `/api/alarms/${alarm.id}/acknowledge`, undefined, {
      'strandward-by': 'Ada',
    });
    expect(answer).toMatchObject({ status: 200, body: { state: 'acknowledged', acknowledgedBy: 'Ada' } });
    const added = await service.send('POST', `/api/spools/${spoolId}/sections`, {
      fromSpoolMm: 10,
      toSpoolMm: 60,
      verdict: 'doubtful',
      note: 'felt rough',
    });
    expect(added.status).toBe(201);
    marked = added.body as SectionView;
  });

  /** Data from before the stop is still there, and the run continues after a stretch that was not measured. */
  async function goesOn(end: () => Promise<void>, mostLostMm: number): Promise<void> {
    const lastHeard = await ownLine();
    const spool = async () => (await service.get<SpoolDetail>(`/api/spools/${spoolId}`)).spool;
    const before = await spool();
    await end();
    await new Promise((resolve) => setTimeout(resolve, 700));
    service = await startService({ source: source(), dataFolder });
    const now = await until(state, (s) => s.link.readings > 20 && s.run !== null, 'the line again');
    const firstHeard = await ownLine();
    expect(now.run!.id).toBe(runId);
    expect(now.spool!.id).toBe(spoolId);
    expect(now.stage.stage).toBe('winding');
    // If the start takes longer than the silence limit, the alarm is suppressed for a while; its acknowledgement stays.
    const answered = [...now.alarms, ...now.suppressed].find((one) => one.id === alarm.id);
    expect(answered).toMatchObject({ acknowledgedBy: 'Ada' });
    expect(['acknowledged', 'suppressedByDesign']).toContain(answered!.state);
    const detail = await service.get<SpoolDetail>(`/api/spools/${spoolId}`);
    const same = detail.sections.find((one) => one.id === blob.id)!;
    expect(same).toMatchObject({ fromSpoolMm: blob.fromSpoolMm, toSpoolMm: blob.toSpoolMm, verdict: 'discard' });
    expect(detail.sections.find((one) => one.id === marked.id)).toMatchObject({
      fromSpoolMm: 10,
      toSpoolMm: 60,
      verdict: 'doubtful',
      note: 'felt rough',
      origin: 'user',
    });
    // The strand that passed during the stop, as counted by the board; none of it counts as good.
    const isIt = (one: SectionView) => one.kind === 'unknown' && !one.open && one.toSpoolMm! > before.woundMm;
    const live = await until(state, (s) => s.sections.some(isIt), 'the unknown stretch');
    // Not the one of a restart before.
    const unknown = live.sections.find(isIt)!;
    const unknownMm = unknown.toGaugeMm - unknown.fromGaugeMm;
    expect(unknownMm).toBeGreaterThan(0.7 * SPEED_MM_PER_S);
    expect(unknownMm).toBeLessThan(firstHeard.len - lastHeard.len + mostLostMm + EDGE_TOLERANCE_MM);
    const wound = await until(spool, (s) => s.unknownMm > before.unknownMm + unknownMm - 1, 'it on the spool');
    expect(wound.unknownMm).toBeCloseTo(before.unknownMm + unknownMm, -1);
  }

  test('after an orderly restart the run continues, with all statements', async () => {
    await goesOn(async () => expect(await service.stop()).toBe(0), 0);
  });

  test.skipIf(!IS_LONG_CHECK)('after a power cut too; at most the last second of readings is lost', async () => {
    // A second of readings, and the time that a commit takes.
    await goesOn(() => service.kill(), 1.3 * SPEED_MM_PER_S);
  });

  test('the morning after shows the run with its blob, its answer and its log', async () => {
    const detail = await service.get<RunDetail>(`/api/runs/${runId}`);
    expect(detail.run.blobs).toBe(1);
    expect(detail.run.worstMm).toBeCloseTo(2.05, 2);
    expect(detail.run.verdict).toEqual({ quality: null, reason: 'No good piece is long enough yet.' });
    const ofBlob = detail.alarms.filter((entry) => entry.alarm.id === alarm.id);
    expect(ofBlob.slice(0, 2).map(({ step, by }) => ({ step, by }))).toEqual([
      { step: 'raised', by: null },
      { step: 'acknowledged', by: 'Ada' },
    ]);
    expect(detail.log.filter((line) => /^Resumed run/.test(line.what))).toHaveLength(IS_LONG_CHECK ? 2 : 1);
  });
});

describe('a cable that is pulled', () => {
  test.skipIf(!IS_LONG_CHECK)(
    'raises an alarm within four seconds, is reconnected, and leaves a stretch marked as not measured',
    async () => {
      const lastHeard = await ownLine();
      const pulledAtMm = (await state()).now.gaugeMm;
      const live = await listenLive(service.address);
      const pulledMs = performance.now();
      await board.unplug();
      const silent = await live.state((s) => s.alarms.some((one) => one.type === 'lineSilent'), 'the alarm', 6000);
      expect(silent.atMs - pulledMs).toBeGreaterThan(2900);
      expect(silent.atMs - pulledMs).toBeLessThan(4000);
      expect(silent.severity).toBe('danger');
      // A port may hang up without an event; it is then closed after 5 s of silence.
      const waiting = await live.state((s) => s.link.phase === 'waiting', 'words about the port', 7000);
      expect(waiting.link.text).toContain(board.linkPath);
      expect(waiting.link.text).toMatch(/Trying again in/);
      live.forget();

      await board.plug();
      // Pauses between the trials grow up to 5 s.
      const open = await live.state((s) => s.link.phase === 'open' && (s.link.silentForS ?? 9) < 1, 'the line', 8000);
      expect(open.run).not.toBeNull();
      const firstHeard = await ownLine();
      const isIt = (one: SectionView) => one.kind === 'unknown' && !one.open && one.fromGaugeMm >= pulledAtMm;
      const unknown = (await live.state((s) => s.sections.some(isIt), 'the unknown stretch')).sections.find(isIt)!;
      live.close();
      const passedMm = firstHeard.len - lastHeard.len;
      expect(unknown.toGaugeMm - unknown.fromGaugeMm).toBeLessThan(passedMm + EDGE_TOLERANCE_MM);
      expect(unknown.toGaugeMm - unknown.fromGaugeMm).toBeGreaterThan(3 * SPEED_MM_PER_S);
      expect(unknown.verdict).not.toBe('good');
    },
  );
});
