import { rmSync } from 'node:fs';
import { createServer } from 'node:http';
import WebSocket, { WebSocketServer } from 'ws';
import type { LinesFrame } from '../../server/api/contract/lines.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { startBrowser, type TestBrowser } from '../browser/browser.ts';
import { newDataFolder, until } from '../service/running-service.ts';
import { BenchBoard, listen } from './bench-board.ts';
import { frameRows, frames } from './frames.ts';
import type { BenchRow } from './report.ts';
import { pause, startWatched, type WatchedService } from './watched-service.ts';

const LINES = 50;
const WARM_UP_S = 20;
const WATCHED_S = 30;
const ALARMS = 20;
const TARGET = { sharePercent: 30, rssMb: 150, alarmMs: 250 };

/**
 * What it costs to show fifty lines at 50 readings/s beside the own one, with a page open, and how long an alarm of one of
 * them takes to the page. The fifty are this process, which speaks the live feed: frames as a service sends them, of one
 * that was asked for its state.
 */
export async function benchLines(): Promise<BenchRow[]> {
  const dataFolder = newDataFolder();
  const board = new BenchBoard();
  const source = `tcp:127.0.0.1:${await board.start()}`;
  let service: WatchedService | null = null;
  let page: WebSocket | null = null;
  let browser: TestBrowser | null = null;
  const speakers: Speaker[] = [];
  try {
    service = await startWatched({ source, dataFolder, args: ['--log', 'warn'] });
    const front = service;
    const settings = { gaugeToWinderMm: 1200, settleLengthMm: 100_000 };
    await front.send('PUT', '/api/settings', settings);
    const state = () => front.get<LiveState>('/api/state');
    await until(state, ({ now }) => now.diameterMm !== null, 'readings', 60_000);
    await board.blob();
    // The board purges, so its blob is suppressed; here it stands for one on a spool.
    const blobbed = await until(state, ({ suppressed }) => suppressed.length > 0, 'an alarm', 60_000);
    const alarmed: LiveState = {
      ...blobbed,
      alarms: blobbed.suppressed.map((alarm) => ({ ...alarm, state: 'unacknowledged', suppression: null })),
      suppressed: [],
    };
    for (let i = 0; i < LINES; i++) {
      const speaker = new Speaker(`Line ${i + 1}`, alarmed);
      speakers.push(speaker);
      const address = `http://127.0.0.1:${await speaker.start()}`;
      const { status } = await front.send('POST', '/api/lines', { address, watchToken: 'any' });
      if (status !== 201) throw new Error(`A line was refused with ${status}.`);
    }
    page = new WebSocket(`${front.address.replace('http', 'ws')}/live/lines`);
    let alarmsShown = 0;
    let seen: () => void = () => {};
    page.on('message', (data) => {
      const { lines } = JSON.parse(data.toString()) as LinesFrame;
      alarmsShown = lines.filter(({ id, alarms }) => id > 0 && alarms.length > 0).length;
      seen();
    });
    await new Promise((resolve, reject) => page!.once('open', resolve).once('error', reject));
    const all = () => front.get<LinesFrame>('/live/lines');
    await until(all, ({ lines }) => lines.every(({ connection }) => connection === 'open'), 'all lines', 60_000);
    await pause(WARM_UP_S * 1000);
    const [cpuS, begun] = [front.cpuS(), performance.now()];
    await pause(WATCHED_S * 1000);
    const sharePercent = (100 * (front.cpuS() - cpuS)) / ((performance.now() - begun) / 1000);
    const rssMb = front.rssMb();
    const delaysMs: number[] = [];
    for (let i = 0; i < ALARMS; i++) {
      const speaker = speakers[(i * 7) % LINES]!;
      const sentMs = performance.now();
      const shown = new Promise<void>((resolve, reject) => {
        const tooLong = setTimeout(() => reject(new Error('An alarm was not on the page within 5 s.')), 5000);
        seen = () => {
          if (alarmsShown === 0) return;
          clearTimeout(tooLong);
          resolve();
        };
      });
      speaker.alarm(true);
      await shown;
      delaysMs.push(performance.now() - sentMs);
      seen = () => {};
      speaker.alarm(false);
      while (alarmsShown > 0) await pause(20);
      await pause(97);
    }
    const alarmMs = Math.max(...delaysMs);
    browser = await startBrowser();
    const { page: shown } = await browser.page();
    await shown.goto(`${front.address}/lines`);
    await shown.getByTestId('line').nth(LINES).waitFor();
    const drawn = await frames(shown, async () => {});
    const what = `${LINES} lines at 50 readings/s (one process speaks their feeds), one page`;
    return [
      {
        what: `${what}: share of a core`,
        value: sharePercent,
        unit: '%',
        ...verdict(sharePercent, TARGET.sharePercent, '%'),
      },
      { what: 'memory (RSS)', value: rssMb, unit: 'MB', ...verdict(rssMb, TARGET.rssMb, 'MB') },
      {
        what: `alarm of one line → page, longest of ${ALARMS}`,
        value: alarmMs,
        unit: 'ms',
        ...verdict(alarmMs, TARGET.alarmMs, 'ms'),
      },
      ...frameRows(`the page Lines with ${LINES} others`, drawn),
    ];
  } finally {
    page?.terminate();
    await browser?.close();
    for (const speaker of speakers) speaker.stop();
    await service?.remove();
    await board.stop();
    rmSync(dataFolder, { recursive: true, force: true });
  }
}

const verdict = (value: number, most: number, unit: string) => ({ target: `≤ ${most} ${unit}`, met: value <= most });

const READINGS_EVERY_MS = 40;
const STATE_EVERY_MS = 250;
const MM_A_FRAME = 4;

/** A stand-in for the service of one line: two readings every 40 ms, the state four times a second and when an alarm comes. */
class Speaker {
  readonly #server = createServer();
  readonly #sockets = new WebSocketServer({ server: this.#server });
  readonly #calm: string;
  readonly #alarmed: string;
  #isAlarmed = false;
  #gaugeMm = 0;
  #timers: NodeJS.Timeout[] = [];

  constructor(lineName: string, alarmed: LiveState) {
    const frame = (state: LiveState) => JSON.stringify({ kind: 'state', state: { ...state, lineName } });
    this.#alarmed = frame(alarmed);
    this.#calm = frame({ ...alarmed, alarms: [], severity: 'calm' });
  }

  async start(): Promise<number> {
    this.#timers = [
      setInterval(() => this.#send(this.#readings()), READINGS_EVERY_MS),
      setInterval(() => this.#sendState(), STATE_EVERY_MS),
    ];
    return listen(this.#server);
  }

  alarm(isAlarmed: boolean): void {
    this.#isAlarmed = isAlarmed;
    this.#sendState();
  }

  stop(): void {
    for (const timer of this.#timers) clearInterval(timer);
    for (const socket of this.#sockets.clients) socket.terminate();
    this.#server.close();
  }

  #sendState(): void {
    this.#send(this.#isAlarmed ? this.#alarmed : this.#calm);
  }

  #send(frame: string): void {
    for (const socket of this.#sockets.clients) socket.send(frame);
  }

  #readings(): string {
    this.#gaugeMm += MM_A_FRAME;
    const at = [this.#gaugeMm - MM_A_FRAME / 2, this.#gaugeMm];
    const diameterMm = at.map((mm) => 1.75 + 0.01 * Math.sin(mm / 50));
    const nowMs = Date.now();
    const zones = [1, 2, 3].map((zone) => ({
      zone,
      temperatureC: [195.1, 195.2],
      setpointC: [195, 195],
      power: [0.4, 0.41],
    }));
    const frame = { kind: 'readings', runId: 1, timeMs: [nowMs - 20, nowMs], gaugeMm: at, diameterMm, zones };
    return JSON.stringify({ ...frame, speedMmPerS: [100, 100] });
  }
}
