import type { BYTES_ABOUT } from '../../server/api/contract/exports.ts';
import { ask } from './request.ts';

const SIZE_HEADER: typeof BYTES_ABOUT = 'strandward-bytes-about';
/** Bytes that are put together to one part, which the browser may then keep on its disk. */
const PART_BYTES = 2 ** 24;

interface ReceivedFile {
  readonly name: string;
  readonly file: Blob;
}

/**
 * Downloads a file that the service makes, and reports the progress.
 * @param received called with the bytes so far, and about how many there will be; null = not known
 * @throws ServiceProblem; AbortError if `signal` was aborted
 */
export function receiveFile(
  path: string,
  received: (bytes: number, bytesAbout: number | null) => void,
  signal: AbortSignal,
): Promise<ReceivedFile> {
  const read = async (answer: Response): Promise<ReceivedFile> => {
    const about = Number(answer.headers.get(SIZE_HEADER) ?? answer.headers.get('content-length') ?? 0) || null;
    const parts: Blob[] = [];
    let [chunks, held, bytes]: [BlobPart[], number, number] = [[], 0, 0];
    const reader = answer.body!.getReader();
    for (let next = await reader.read(); !next.done; next = await reader.read()) {
      chunks.push(next.value as Uint8Array<ArrayBuffer>);
      held += next.value.length;
      bytes += next.value.length;
      received(bytes, about);
      if (held < PART_BYTES) continue;
      parts.push(new Blob(chunks));
      [chunks, held] = [[], 0];
    }
    const name = /filename="([^"]+)"/.exec(answer.headers.get('content-disposition') ?? '')?.[1] ?? 'download';
    return { name, file: new Blob([...parts, ...chunks], { type: answer.headers.get('content-type') ?? '' }) };
  };
  return ask('GET', path, '*/*', read, undefined, signal);
}
