import type { Canvas } from './png.ts';

/** 5 × 7 dots. One number per row, the leftmost dot in the highest bit. Only the characters that a trace needs. */
const GLYPHS: Readonly<Record<string, readonly number[]>> = {
  '0': [14, 17, 19, 21, 25, 17, 14],
  '1': [4, 12, 4, 4, 4, 4, 14],
  '2': [14, 17, 1, 2, 4, 8, 31],
  '3': [31, 2, 4, 2, 1, 17, 14],
  '4': [2, 6, 10, 18, 31, 2, 2],
  '5': [31, 16, 30, 1, 1, 17, 14],
  '6': [6, 8, 16, 30, 17, 17, 14],
  '7': [31, 1, 2, 4, 8, 8, 8],
  '8': [14, 17, 17, 14, 17, 17, 14],
  '9': [14, 17, 17, 15, 1, 2, 12],
  '.': [0, 0, 0, 0, 0, 12, 12],
  '-': [0, 0, 0, 31, 0, 0, 0],
  m: [0, 0, 26, 21, 21, 21, 21],
};
const ADVANCE = 6;
export const GLYPH_HEIGHT = 7;

export const textWidth = (text: string, scale: number): number => text.length * ADVANCE * scale - scale;

/** Writes digits, `.`, `-`, `m` and spaces. `left` and `top` in px; a dot is `scale` px wide. */
export function write(canvas: Canvas, text: string, left: number, top: number, scale: number, colour: number): void {
  [...text].forEach((character, index) => {
    const rows = GLYPHS[character] ?? [];
    rows.forEach((row, y) => {
      for (let x = 0; x < 5; x++) {
        if (((row >> (4 - x)) & 1) === 0) continue;
        const at = { x: left + (index * ADVANCE + x) * scale, y: top + y * scale };
        canvas.box(at.x, at.y, at.x + scale - 1, at.y + scale - 1, colour);
      }
    });
  });
}
