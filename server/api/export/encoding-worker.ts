import { parentPort, workerData } from 'node:worker_threads';
import { messageOf } from '../../problem/problem.ts';
import { ENCODERS } from './encoders.ts';
import type { EncodingOrder, EncodingReply, EncodingStart } from './encoding-thread.ts';

/** The thread that turns the readings of one export into bytes. */
const port = parentPort!;
const { format, table } = workerData as EncodingStart;
const encoder = ENCODERS[format](table);

port.on('message', (order: EncodingOrder) => {
  try {
    const bytes = order.what === 'rows' ? encoder.rows(order.rows) : encoder[order.what]();
    reply({ bytes });
  } catch (thrown) {
    reply({ failed: messageOf(thrown) });
  }
});

function reply(message: EncodingReply): void {
  port.postMessage(message, 'bytes' in message ? [message.bytes.buffer as ArrayBuffer] : []);
}
