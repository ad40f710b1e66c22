import { Worker } from 'node:worker_threads';
import type { ExportFormat } from '../contract/exports.ts';
import { ENCODERS } from './encoders.ts';
import type { ExportRows, ExportTable } from './export-table.ts';

export interface EncodingStart {
  readonly format: ExportFormat;
  readonly table: ExportTable;
}
export type EncodingOrder =
  | { readonly what: 'begin' }
  | { readonly what: 'rows'; readonly rows: ExportRows }
  | { readonly what: 'end' };
export type EncodingReply = { readonly bytes: Uint8Array } | { readonly failed: string };

/** One export under way; one order at a time. Rows are handed over: whoever gives them cannot use them again. */
export interface Encoding {
  do(order: EncodingOrder): Promise<Uint8Array>;
  close(): Promise<void>;
}

/** Where the worker's code lies: beside this file, once it is built. Node 20 runs no TypeScript in a worker. */
const WORKER = import.meta.url.endsWith('.ts') ? null : new URL('./encoding-worker.js', import.meta.url);

/** Packing a night as Parquet takes many seconds: on a thread of its own, so that it delays nothing. */
export function openEncoding(start: EncodingStart): Encoding {
  return WORKER === null ? sameThread(start) : onThread(WORKER, start);
}

function onThread(code: URL, start: EncodingStart): Encoding {
  const worker = new Worker(code, { workerData: start });
  let waiting: { resolve(bytes: Uint8Array): void; reject(thrown: Error): void } | null = null;
  let broken: Error | null = null;
  const fail = (thrown: Error): void => {
    broken = thrown;
    waiting?.reject(thrown);
    waiting = null;
  };
  worker.on('message', (reply: EncodingReply) => {
    const asked = waiting;
    waiting = null;
    if ('bytes' in reply) asked?.resolve(reply.bytes);
    else asked?.reject(new Error(`The export cannot be written: ${reply.failed}`));
  });
  worker.on('error', fail);
  worker.on('exit', () => fail(new Error('The thread that writes the export ended.')));
  return {
    do: (order) =>
      new Promise((resolve, reject) => {
        if (broken !== null) {
          reject(broken);
          return;
        }
        waiting = { resolve, reject };
        worker.postMessage(order, buffersOf(order));
      }),
    close: async () => {
      await worker.terminate();
    },
  };
}

/** Rows are handed over, not copied. */
function buffersOf(order: EncodingOrder): ArrayBuffer[] {
  if (order.what !== 'rows') return [];
  const { timeMs, positionMm, gaugeMm, values } = order.rows;
  return [timeMs, ...(positionMm === null ? [] : [positionMm]), gaugeMm, ...values].map(
    ({ buffer }) => buffer as ArrayBuffer,
  );
}

function sameThread({ format, table }: EncodingStart): Encoding {
  const encoder = ENCODERS[format](table);
  return {
    do: async (order) => (order.what === 'rows' ? encoder.rows(order.rows) : encoder[order.what]()),
    close: async () => {},
  };
}
