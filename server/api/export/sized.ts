import type { ExportFormat } from '../contract/exports.ts';
import { ROWS_PER_PIECE } from './encoded.ts';

/** A file as it is made, and about how large it will be. */
export interface Sized {
  readonly bytesAbout: number;
  readonly bytes: AsyncIterable<Uint8Array>;
}

/** Tells how large an export will be from its first rows: the others take about as many bytes. */
export async function sized(bytes: AsyncGenerator<Uint8Array>, rows: number, format: ExportFormat): Promise<Sized> {
  const first = [await bytes.next(), await bytes.next()];
  const [head = 0, piece = 0] = first.map(({ value }) => (value as Uint8Array | undefined)?.length ?? 0);
  const ahead: AsyncIterator<Uint8Array> = {
    next: async () => first.shift() ?? bytes.next(),
    // A generator would not pass this on before its first piece, and the encoder would go on waiting.
    return: async () => bytes.return(undefined),
  };
  return {
    bytesAbout: Math.round(head + piece * Math.max(1, rows / ROWS_PER_PIECE[format])),
    bytes: { [Symbol.asyncIterator]: () => ahead },
  };
}
