import { createServer, request } from 'node:http';
import type { AddressInfo } from 'node:net';
import { Readable } from 'node:stream';
import { expect, test } from 'vitest';
import { uploadedChunks } from '../../server/api/routes/uploaded-chunks.ts';

test('an upload that stops without closing the connection is abandoned', async () => {
  let outcome: unknown = null;
  const server = createServer(async (body) => {
    let bytes = 0;
    try {
      for await (const chunk of uploadedChunks(body, 200)) bytes += chunk.length;
      outcome = bytes;
    } catch (thrown) {
      outcome = thrown;
    }
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  const phone = request({ port, host: '127.0.0.1', method: 'POST', headers: { 'content-length': 1000 } });
  phone.on('error', () => {});
  phone.write('d=1.75\n');
  await expect.poll(() => outcome, { timeout: 20_000 }).toMatchObject({ code: 'upload-stalled' });
  phone.destroy();
  await new Promise((resolve) => server.close(resolve));
});

test('an upload is passed on completely, however long each part takes to process', async () => {
  const parts: string[] = [];
  for await (const chunk of uploadedChunks(Readable.from([Buffer.from('a'), Buffer.from('b')]), 100)) {
    await new Promise((resolve) => setTimeout(resolve, 250));
    parts.push(chunk.toString());
  }
  expect(parts).toStrictEqual(['a', 'b']);
});
