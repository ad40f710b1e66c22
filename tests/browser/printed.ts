import { execFileSync } from 'node:child_process';
import type { Page } from 'playwright-core';

/** A sheet of paper as a printer of 203 dpi sees it: one byte per dot, 0 = black. */
export interface PrintedSheet {
  readonly width: number;
  readonly height: number;
  readonly grey: Uint8Array;
}

const DOTS_PER_MM = 203.2 / 25.4;

/** Prints a page to PDF and rasterises it, by a renderer that is not the browser (poppler), at 203 dpi. */
export async function printed(page: Page): Promise<PrintedSheet[]> {
  const pdf = await page.pdf({ preferCSSPageSize: true });
  const pgm = execFileSync('pdftoppm', ['-r', '203.2', '-gray', '-'], { input: pdf, maxBuffer: 256 << 20 });
  const sheets: PrintedSheet[] = [];
  // Binary PGM, one after the other: "P5 width height 255", one white space, then the dots row by row.
  for (let at = 0; at < pgm.length; ) {
    const head = /^P5\s+(\d+)\s+(\d+)\s+255\s/.exec(pgm.toString('latin1', at, at + 60));
    if (!head) throw new Error('pdftoppm wrote no PGM');
    const [width, height] = [Number(head[1]), Number(head[2])];
    const from = at + head[0].length;
    sheets.push({ width, height, grey: pgm.subarray(from, from + width * height) });
    at = from + width * height;
  }
  return sheets;
}

/** Part of a sheet in black and white only, as RGBA for a decoder. Places in mm from the top left. */
export function blackAndWhite(
  { width, height, grey }: PrintedSheet,
  [leftMm, topMm, wideMm, highMm]: readonly [number, number, number, number],
): { readonly data: Uint8ClampedArray; readonly width: number; readonly height: number } {
  const [left, top] = [Math.round(leftMm * DOTS_PER_MM), Math.round(topMm * DOTS_PER_MM)];
  const wide = Math.min(width - left, Math.round(wideMm * DOTS_PER_MM));
  const high = Math.min(height - top, Math.round(highMm * DOTS_PER_MM));
  const data = new Uint8ClampedArray(wide * high * 4).fill(255);
  for (let y = 0; y < high; y += 1) {
    for (let x = 0; x < wide; x += 1) {
      const level = grey[(top + y) * width + left + x]! < 128 ? 0 : 255;
      data.fill(level, (y * wide + x) * 4, (y * wide + x) * 4 + 3);
    }
  }
  return { data, width: wide, height: high };
}
