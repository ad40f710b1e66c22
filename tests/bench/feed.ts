import { rmSync } from 'node:fs';
import WebSocket from 'ws';
import type { LiveFrame } from '../../server/api/contract/live.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { BenchBoard } from './bench-board.ts';
import type { BenchRow } from './report.ts';
import { NIGHT_HOURS, writeNight } from './stored-night.ts';
import { pause } from './watched-service.ts';

const CLIENTS = 20;
const QUERIES = 20;
const BLOBS = 10;
const TARGET_MS = 100;

interface Delays {
  readonly readings: number[];
  readonly alarms: number[];
}

/**
 * From the last byte of a reading line until 20 open pages have it, and from the first line of a blob until they have the
 * alarm: with eight hours of history, alone and while 20 requests for all of it are being answered. Sent and received
 * by the clock of this one process.
 */
export async function benchFeed(): Promise<BenchRow[]> {
  const dataFolder = newDataFolder();
  const board = new BenchBoard();
  const source = `tcp:127.0.0.1:${await board.start()}`;
  let service: RunningService | null = null;
  const sockets: WebSocket[] = [];
  let asking = true;
  try {
    await writeNight(dataFolder, source);
    service = await startService({ source, dataFolder, args: ['--log', 'warn'] });
    const watched = service;
    await watched.send('PUT', '/api/settings', { gaugeToWinderMm: 0, settleLengthMm: 100_000 });
    const feed = new FeedWatch(board);
    for (let i = 0; i < CLIENTS; i++) {
      const socket = new WebSocket(`${watched.address.replace('http', 'ws')}/live`);
      socket.on('error', () => {});
      socket.on('message', (data: Buffer) => feed.frame(i, data.toString()));
      sockets.push(socket);
    }
    const state = () => watched.get<{ link: { readings: number } }>('/api/state');
    await until(state, ({ link }) => link.readings > 500, 'readings', 60_000);
    const alone = await measure(watched, board, feed);
    const load = Promise.all(Array.from({ length: QUERIES }, () => askOn(watched, () => asking)));
    await pause(2000);
    const loaded = await measure(watched, board, feed);
    asking = false;
    const asked = (await load).reduce((sum, count) => sum + count, 0);
    return [
      ...rows(`${CLIENTS} clients, 50 readings/s`, alone),
      ...rows(`the same while ${QUERIES} full-history queries run`, loaded),
      { what: `questions about ${NIGHT_HOURS} h answered meanwhile`, value: asked, unit: '' },
    ];
  } finally {
    asking = false;
    for (const socket of sockets) socket.terminate();
    await service?.remove();
    await board.stop();
    rmSync(dataFolder, { recursive: true, force: true });
  }
}

/** Asks for the whole history again as soon as the answer is there; gives how often. */
async function askOn(service: RunningService, goesOn: () => boolean): Promise<number> {
  let count = 0;
  const [run] = await service.get<{ id: number; startedMs: number }[]>('/api/runs');
  while (goesOn() && run !== undefined) {
    const query = `axis=time&from=${run.startedMs}&to=${Date.now()}&columns=1500&signals=d,t1,v`;
    const reply = await fetch(`${service.address}/api/runs/${run.id}/window?${query}`, {
      headers: { accept: 'application/vnd.strandward.window' },
    });
    if (!reply.ok) throw new Error(`window: ${reply.status} ${await reply.text()}`);
    await reply.arrayBuffer();
    count += 1;
  }
  return count;
}

async function measure(service: RunningService, board: BenchBoard, feed: FeedWatch): Promise<Delays> {
  feed.begin();
  for (let n = 0; n < BLOBS; n++) {
    feed.expectAlarm(await board.blob());
    for (let waitedMs = 0; !feed.allTold && waitedMs < 5000; waitedMs += 5) await pause(5);
    if (!feed.allTold) throw new Error(`The alarm of blob ${n + 1} was not with all clients within 5 s.`);
    await pause(500);
    await service.send('POST', '/api/alarms/acknowledge-all');
    await pause(700);
  }
  return feed.delays();
}

/** Receives the frames of all clients; each text is looked into once, for it is the same for all. */
class FeedWatch {
  readonly #board: BenchBoard;
  #readings: number[] = [];
  #alarms: number[] = [];
  #text = '';
  #sentMs: number[] = [];
  #blobs = '';
  #blobsBefore = '';
  #blobSentMs = Number.NaN;
  readonly #unreached = new Set<number>();

  constructor(board: BenchBoard) {
    this.#board = board;
  }

  begin(): void {
    this.#readings = [];
    this.#alarms = [];
  }

  expectAlarm(sentMs: number): void {
    this.#blobsBefore = this.#blobs;
    this.#blobSentMs = sentMs;
    for (let i = 0; i < CLIENTS; i++) this.#unreached.add(i);
  }

  get allTold(): boolean {
    return this.#unreached.size === 0;
  }

  delays(): Delays {
    return { readings: this.#readings, alarms: this.#alarms };
  }

  frame(client: number, text: string): void {
    const atMs = performance.now();
    if (text !== this.#text) this.#look(text);
    for (const sentMs of this.#sentMs) this.#readings.push(atMs - sentMs);
    if (this.#blobs === this.#blobsBefore || !this.#unreached.delete(client)) return;
    this.#alarms.push(atMs - this.#blobSentMs);
  }

  #look(text: string): void {
    this.#text = text;
    this.#sentMs = [];
    const frame = JSON.parse(text) as LiveFrame;
    if (frame.kind === 'readings') {
      for (const t of frame.zones[0]?.temperatureC ?? []) if (t !== null) this.#sentMs.push(this.#board.sentMs(t));
    } else if (frame.kind === 'state') {
      const blobs = frame.state.alarms.filter(({ type }) => type === 'blob');
      // Acknowledged or over is nothing new.
      const known = blobs.map(({ id, occurrences }) => `${id}:${occurrences}`).join();
      if (known !== '') this.#blobs = known;
    }
  }
}

function rows(what: string, { readings, alarms }: Delays): BenchRow[] {
  const p99Ms = quantile(readings, 0.99);
  const worstAlarmMs = Math.max(...alarms);
  return [
    { what: `${what}: reading line → received, median`, value: quantile(readings, 0.5), unit: 'ms' },
    {
      what: `${what}: p99`,
      value: p99Ms,
      unit: 'ms',
      target: `≤ ${TARGET_MS}`,
      met: p99Ms <= TARGET_MS,
    },
    {
      what: `${what}: first line of a blob → its alarm with all, worst of ${BLOBS}`,
      value: worstAlarmMs,
      unit: 'ms',
      target: `≤ ${TARGET_MS}`,
      met: worstAlarmMs <= TARGET_MS,
    },
  ];
}

function quantile(values: readonly number[], share: number): number {
  const sorted = Float64Array.from(values).sort();
  return sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? Number.NaN;
}
