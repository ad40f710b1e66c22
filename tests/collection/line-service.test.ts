import { once } from 'node:events';
import { createServer, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { setImmediate as nextTask } from 'node:timers/promises';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { expect, test } from 'vitest';
import { LineService } from '../../server/collection/line-service.ts';

test('reads all readings of a run although its answer becomes garbage before they arrive', async () => {
  const answers: ServerResponse[] = [];
  const server = createServer((_, answer) => {
    answers.push(answer);
    answer.write('first ');
  }).listen(0, '127.0.0.1');
  await once(server, 'listening');
  try {
    const line = new LineService(`http://127.0.0.1:${(server.address() as AddressInfo).port}`, null);
    const readings = await line.readings(1);
    setFlagsFromString('--expose-gc');
    const collectGarbage = runInNewContext('gc') as () => void;
    // What is to be done about garbage is done between two tasks.
    for (let i = 0; i < 5; i++) {
      collectGarbage();
      await nextTask();
    }
    answers[0]!.end('last');
    const text: string[] = [];
    for await (const chunk of readings) text.push(Buffer.from(chunk).toString());
    expect(text.join('')).toBe('first last');
  } finally {
    server.close();
  }
});
