import { createWriteStream } from 'node:fs';
import { rm } from 'node:fs/promises';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import type { Clock } from '../../monitor/clock.ts';
import { requireFreeSpace } from '../../monitor/maintenance-service.ts';
import type { RecordMaintenance } from '../../monitor/ports/maintenance.ts';
import type { RecordingService } from '../../monitor/recording-service.ts';
import { Problem } from '../../problem/problem.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import { LOG_BYTES_MAX, LOG_TYPES } from '../contract/recording.ts';
import { type Api, serve } from '../serve.ts';

/** Bytes after which the free space is checked again. */
const CHECK_EVERY_BYTES = 2 ** 24;
/** Space for the log and for the runs made from it, which need less than half of its size. */
const SPACE_FACTOR = 1.5;
const DAY_MS = 86_400_000;

export interface RecordingParts {
  readonly recordings: RecordingService;
  /** Where an uploaded log is kept until it is imported. */
  readonly disk: Pick<RecordMaintenance, 'scratchPath' | 'freeBytes'>;
  readonly clock: Clock;
  settings(): LineSettings;
}

/** Imports a recorded log of reading lines as runs while the line continues to be watched. */
export function recordingRoutes(api: Api, { recordings, disk, clock, settings }: RecordingParts): void {
  const requireSpaceFor = (bytes: number) => requireFreeSpace(bytes, disk, settings());
  let uploading = false;

  // Registered in a separate scope, so that other routes parse their bodies as usual.
  api.addContentTypeParser([...LOG_TYPES], { bodyLimit: LOG_BYTES_MAX }, (_request, payload, done) =>
    done(null, payload),
  );
  serve(api, 'POST /api/recording', async ({ body, query, headers }) => {
    if (!(body instanceof Readable)) {
      throw new Problem('bad-log', 'No log was sent.', 'Send its bytes with the content type text/plain.');
    }
    recordings.requireIdle();
    if (uploading) throw new Problem('wrong-state', 'Another log is being uploaded.', 'Try again in a moment.');
    const statedBytes = Number(headers['content-length'] ?? 0);
    if (statedBytes > LOG_BYTES_MAX) throw tooLarge();
    requireSpaceFor(SPACE_FACTOR * statedBytes);
    uploading = true;
    const path = disk.scratchPath('log');
    const count = { bytes: 0, lines: 0 };
    try {
      await pipeline(body, counted(count, requireSpaceFor), createWriteStream(path));
      const { name = 'The log', changedMs = null } = query;
      return await recordings.examine({ path, name, ...count, changedMs });
    } catch (thrown) {
      await rm(path, { force: true });
      throw thrown;
    } finally {
      uploading = false;
    }
  });

  serve(api, 'GET /api/recording', () => recordings.state);

  serve(api, 'POST /api/recording/start', ({ body, by }) => {
    const { startMs, rateHz = null } = body;
    if (startMs > clock() + DAY_MS) {
      throw new Problem('bad-time', 'The log cannot have started in the future.', 'Enter when it was recorded.', {
        pointer: '/startMs',
      });
    }
    recordings.startImport(startMs, rateHz, by);
    return recordings.state;
  });

  serve(api, 'DELETE /api/recording', () => recordings.discard());
}

/** Counts bytes and lines, and stops an upload that needs too much space. */
function counted(count: { bytes: number; lines: number }, requireSpaceFor: (bytes: number) => void) {
  return async function* (chunks: AsyncIterable<Buffer>): AsyncGenerator<Buffer> {
    let checked = 0;
    for await (const chunk of chunks) {
      count.bytes += chunk.length;
      if (count.bytes > LOG_BYTES_MAX) throw tooLarge();
      if (count.bytes - checked > CHECK_EVERY_BYTES) {
        requireSpaceFor(count.bytes - checked);
        checked = count.bytes;
      }
      for (let at = chunk.indexOf(10); at >= 0; at = chunk.indexOf(10, at + 1)) count.lines++;
      yield chunk;
    }
  };
}

function tooLarge(): Problem {
  return new Problem(
    'bad-log',
    `The log is larger than ${LOG_BYTES_MAX / 2 ** 30} GB.`,
    'Split it into parts, for example with split -C 1G night.log',
  );
}
