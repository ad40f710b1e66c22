import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { LineSplitter } from '../../server/reading/line-splitter.ts';

/** Mostly printable bytes, sometimes a line end or a byte near the limits of the printable range. */
const byte = fc.oneof(
  { weight: 12, arbitrary: fc.integer({ min: 32, max: 126 }) },
  { weight: 1, arbitrary: fc.constantFrom(0, 9, 13, 13, 31, 32, 126, 127, 128, 160, 255) },
  { weight: 1, arbitrary: fc.constant(10) },
);

describe('a stream split into lines', () => {
  it('has the same text, XOR and printability as byte by byte, for any chunks', () => {
    fc.assert(
      fc.property(fc.array(byte, { maxLength: 200 }), fc.array(fc.nat(40), { maxLength: 20 }), (bytes, cuts) => {
        const stream = Uint8Array.from(bytes);
        const found: { text: string; xor: number; ascii: boolean }[] = [];
        const splitter = new LineSplitter();
        let from = 0;
        for (const size of [...cuts, bytes.length]) {
          // The chunk is at any offset of its memory.
          const chunk = new Uint8Array(size + 3).subarray(size % 3, (size % 3) + Math.min(size, bytes.length - from));
          chunk.set(stream.subarray(from, from + size));
          from += chunk.length;
          splitter.feed(chunk);
          while (splitter.next()) {
            const text = Buffer.from(splitter.bytes.subarray(splitter.start, splitter.end)).toString('latin1');
            found.push({ text, xor: splitter.xor, ascii: splitter.ascii });
          }
        }
        const expected = linesOf(bytes).map((line) => {
          const text = line.replace(/\r+$/, '').replace(/^\r+(?=[^\r]*$)/, '');
          const ascii = /^[\t\x20-\x7e]*$/.test(text);
          const all = Buffer.from(text.replaceAll('\r', ''), 'latin1');
          return { text, xor: all.reduce((xor, byte) => xor ^ byte, 0), ascii };
        });
        expect(found).toEqual(expected);
      }),
      { numRuns: 2000 },
    );
  });

  it('ends its lines at carriage returns if no line feed comes, until one does', () => {
    const found = linesIn('a\rb\rc\rd\re\rf\r\ng\r\nh\r\n');
    expect(found).toEqual(['a\rb\rc\rd', 'e', 'f', '', 'g', 'h']);
  });

  it('loses its colours, and keeps an incomplete code to be dropped', () => {
    expect(linesIn('\x1b[1;32mD=1.75\x1b[0m t=3\n\x1b[3')).toEqual(['D=1.75 t=3']);
    expect(linesIn('\x1b[1;32mD=1\x1b]0\n')).toEqual(['\x1b[1;32mD=1\x1b]0']);
  });
});

function linesIn(text: string): string[] {
  const splitter = new LineSplitter();
  splitter.feed(Buffer.from(text, 'latin1'));
  const found: string[] = [];
  while (splitter.next())
    found.push(Buffer.from(splitter.bytes.subarray(splitter.start, splitter.end)).toString('latin1'));
  return found;
}

/** Byte by byte: lines end at a line feed; at a carriage return if three came before it without one, and so on. */
function linesOf(bytes: readonly number[]): string[] {
  const lines: string[] = [];
  let line = '';
  let returnEnds = false;
  for (const byte of bytes) {
    const isReturn = byte === 13;
    if (byte === 10 || (isReturn && (returnEnds || line.split('\r').length === 4))) {
      lines.push(line);
      returnEnds = isReturn || (returnEnds && line !== '');
      line = '';
    } else line += String.fromCharCode(byte);
  }
  return lines;
}
