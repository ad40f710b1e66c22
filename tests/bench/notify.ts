import { type ChildProcess, spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import WebSocket from 'ws';
import { BenchBoard, listen } from './bench-board.ts';
import type { BenchRow } from './report.ts';

const PROGRAM = fileURLToPath(new URL('../../server/main.js', import.meta.url));
const BLOBS = 20;
const CLIENTS = 20;
const TARGET_MS = 250;

/**
 * From the reading line that makes a blob true until its message is with the receiver: the built service at 50 Hz, with 20
 * open pages and questions about the whole history all the while. Sent and received by the clock of this one process.
 */
export async function benchNotify(): Promise<BenchRow[]> {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-bench-'));
  const got: { text: string; atMs: number }[] = [];
  const receiver = createServer((request, response) => {
    const atMs = performance.now();
    let body = '';
    request.on('data', (chunk: Buffer) => {
      body += chunk;
    });
    request.on('end', () => {
      const { type, data } = JSON.parse(body);
      if (type === 'strandward.raised') got.push({ text: data.text, atMs });
      response.writeHead(204).end();
    });
  });
  const board = new BenchBoard();
  const [receiverPort, boardPort] = [await listen(receiver), await board.start()];
  let service: ChildProcess | null = null;
  const sockets: WebSocket[] = [];
  let asking = true;
  try {
    const started = await startService(folder, boardPort);
    service = started.child;
    const { address } = started;
    const ask = (method: string, path: string, body?: unknown) => call(address, method, path, body);
    await ask('PUT', '/api/settings', { gaugeToWinderMm: 0, settleLengthMm: 100_000 });
    const url = `http://127.0.0.1:${receiverPort}/`;
    const channel = await ask('POST', '/api/channels', {
      name: 'bench',
      settings: { kind: 'webhook', url, secret: 'bench', template: '' },
    });
    const person = { name: 'bench', channelIds: [channel.id], leastPriority: 'low', quiet: null, round: 1 };
    await ask('POST', '/api/people', person);
    await ask('POST', '/api/stage', { stage: 'winding' });
    for (let i = 0; i < CLIENTS; i++) sockets.push(new WebSocket(`${address.replace('http', 'ws')}/live`));
    for (const socket of sockets) socket.on('error', () => {});
    const load = (async () => {
      while (asking) {
        const [run] = await ask('GET', '/api/runs');
        if (run) {
          const query = `axis=time&from=${run.startedMs}&to=${Date.now()}&columns=1500&signals=d,t1,v`;
          await ask('GET', `/api/runs/${run.id}/window?${query}`);
        }
        await pause(50);
      }
    })();
    await pause(3000);
    const delays: number[] = [];
    for (let n = 0; n < BLOBS; n++) {
      const before = got.length;
      const trueMs = await board.blob();
      for (let waited = 0; got.length === before && waited < 5000; waited += 5) await pause(5);
      const message = got[before];
      if (message === undefined) throw new Error(`The message about blob ${n + 1} did not come within 5 s.`);
      delays.push(message.atMs - trueMs);
      // Acknowledged, so that the next one notifies again.
      await pause(400);
      await ask('POST', '/api/alarms/acknowledge-all');
      await pause(600);
    }
    asking = false;
    await load;
    delays.sort((a, b) => a - b);
    const worst = delays.at(-1) ?? Number.NaN;
    return [
      { what: 'blob beyond the limit → message at the receiver, median', value: delays[BLOBS >> 1]!, unit: 'ms' },
      {
        what: `the worst of ${BLOBS}, with ${CLIENTS} open pages and full-history queries`,
        value: worst,
        unit: 'ms',
        target: `≤ ${TARGET_MS} ms`,
        met: worst <= TARGET_MS,
      },
    ];
  } finally {
    asking = false;
    for (const socket of sockets) socket.terminate();
    service?.kill('SIGTERM');
    await board.stop();
    receiver.closeAllConnections();
    await new Promise((resolve) => receiver.close(resolve));
    await new Promise((resolve) =>
      service === null || service.exitCode !== null ? resolve(0) : service.once('close', resolve),
    );
    rmSync(folder, { recursive: true, force: true });
  }
}

async function startService(folder: string, boardPort: number): Promise<{ child: ChildProcess; address: string }> {
  const args = [PROGRAM, '--port', '0', '--data', folder, '--source', `tcp:127.0.0.1:${boardPort}`];
  const child = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'inherit'] });
  let printed = '';
  const address = await new Promise<string>((resolve, reject) => {
    child.stdout.on('data', (chunk: Buffer) => {
      printed += chunk;
      const found = /Open (http:\/\/\S+)/.exec(printed)?.[1];
      if (found !== undefined) resolve(found);
    });
    child.once('close', () => reject(new Error(`The service ended:\n${printed}`)));
  });
  return { child, address };
}

// biome-ignore lint/suspicious/noExplicitAny: answers of several shapes
async function call(address: string, method: string, path: string, body?: unknown): Promise<any> {
  const json =
    body === undefined ? {} : { body: JSON.stringify(body), headers: { 'content-type': 'application/json' } };
  const reply = await fetch(address + path, { method, ...json });
  const text = await reply.text();
  if (!reply.ok) throw new Error(`${method} ${path}: ${reply.status} ${text}`);
  return text === '' ? null : JSON.parse(text);
}

const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));
