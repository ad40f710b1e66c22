import { crc32, deflateSync } from 'node:zlib';

/** An image of palette colours, one byte per pixel, rows from the top. */
export class Canvas {
  readonly width: number;
  readonly height: number;
  readonly pixels: Uint8Array;

  constructor(width: number, height: number) {
    this.width = width;
    this.height = height;
    this.pixels = new Uint8Array(width * height);
  }

  /** Edges inclusive, px; clipped to the image. */
  box(left: number, top: number, right: number, bottom: number, colour: number): void {
    const x0 = Math.max(0, Math.round(left));
    const x1 = Math.min(this.width - 1, Math.round(right));
    const y0 = Math.max(0, Math.round(top));
    const y1 = Math.min(this.height - 1, Math.round(bottom));
    for (let y = y0; y <= y1; y++) this.pixels.fill(colour, y * this.width + x0, y * this.width + x1 + 1);
  }
}

/** PNG (ISO/IEC 15948) with a palette of 24-bit colours, 0xrrggbb. */
export function encodePng(canvas: Canvas, palette: readonly number[]): Buffer {
  const { width, height, pixels } = canvas;
  const rows = Buffer.alloc((width + 1) * height);
  // Each row starts with its filter: 0 = none.
  for (let y = 0; y < height; y++) rows.set(pixels.subarray(y * width, (y + 1) * width), y * (width + 1) + 1);
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  // 8 bits, palette, deflate, adaptive filters, not interlaced.
  head.set([8, 3, 0, 0, 0], 8);
  const colours = Buffer.from(palette.flatMap((colour) => [colour >> 16, (colour >> 8) & 0xff, colour & 0xff]));
  return Buffer.concat([
    Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]),
    chunk('IHDR', head),
    chunk('PLTE', colours),
    chunk('IDAT', deflateSync(rows, { level: 9 })),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

function chunk(type: string, data: Buffer): Buffer {
  const named = Buffer.concat([Buffer.from(type, 'latin1'), data]);
  const framed = Buffer.alloc(named.length + 8);
  framed.writeUInt32BE(data.length, 0);
  named.copy(framed, 4);
  framed.writeUInt32BE(crc32(named), named.length + 4);
  return framed;
}
