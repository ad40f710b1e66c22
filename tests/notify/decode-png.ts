import { inflateSync } from 'node:zlib';
import { expect } from 'vitest';

/** Reads a picture by the rules of PNG (ISO/IEC 15948): palette, 8 bits, rows without a filter. */
export function decodePng(png: Buffer): { width: number; height: number; colourAt(x: number, y: number): string } {
  expect(png.subarray(0, 8).toString('latin1')).toBe('\x89PNG\r\n\x1a\n');
  const chunks = new Map<string, Buffer>();
  for (let at = 8; at < png.length; ) {
    const length = png.readUInt32BE(at);
    chunks.set(png.toString('latin1', at + 4, at + 8), png.subarray(at + 8, at + 8 + length));
    at += length + 12;
  }
  const [width, height] = [chunks.get('IHDR')!.readUInt32BE(0), chunks.get('IHDR')!.readUInt32BE(4)];
  const rows = inflateSync(chunks.get('IDAT')!);
  const palette = chunks.get('PLTE')!;
  return {
    width,
    height,
    colourAt: (x, y) => {
      expect(rows[y * (width + 1)]).toBe(0);
      const colour = rows[y * (width + 1) + 1 + x]!;
      return palette.toString('hex', colour * 3, colour * 3 + 3);
    },
  };
}
