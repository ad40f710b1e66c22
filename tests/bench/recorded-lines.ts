import { createSimulation } from '../../simulator/index.ts';

/** Reading lines of a simulated night, as one buffer: named, with checksums, 11 values a line. */
export function recordedLines(count: number, scenario = 'evening', seed = 7): Buffer {
  const simulation = createSimulation({ scenario, seed, rateHz: 50 });
  const chunks: Buffer[] = [];
  let lines = 0;
  while (lines < count) {
    const chunk = Buffer.from(simulation.step(), 'latin1');
    for (const byte of chunk) if (byte === 10) lines += 1;
    chunks.push(chunk);
  }
  return Buffer.concat(chunks);
}

/** As a serial port would deliver them: in pieces of up to 64 KiB. */
export function* pieces(bytes: Buffer, size = 65_536): Generator<Buffer> {
  for (let from = 0; from < bytes.length; from += size) yield bytes.subarray(from, from + size);
}
