import { statSync } from 'node:fs';
import { RECORDED_LOG } from '../entities/run.ts';
import type { RecordingProgress, ReplayedRecording, ReplayRequest } from '../monitor/ports/recording.ts';
import { Problem } from '../problem/problem.ts';
import { fileSource } from '../source/file-source.ts';
import type { Source } from '../source/source.ts';
import { stampedSource } from '../source/stamped-source.ts';
import { listeningTo, replaySource } from './replay-source.ts';

/** Replays a recorded log as if its lines arrived live, see `replaySource`. */
export async function replayRecording(
  request: ReplayRequest,
  progress: (now: RecordingProgress) => void,
  stop: AbortSignal,
): Promise<ReplayedRecording> {
  const { path, startMs, rateHz } = request;
  const bytes = statSync(path).size;
  const counted = counting(fileSource({ path, pace: 'max', startMs, rateHz }));
  const source = request.stamped ? stampedSource(counted.source, startMs) : counted.source;
  const share = () => (bytes === 0 ? 1 : counted.bytes() / bytes);
  const replayed = await replaySource(
    source,
    `${RECORDED_LOG}${request.name}`,
    request,
    (readings) => progress({ share: share(), readings }),
    stop,
  );
  // Bytes that did not arrive could not be read from the file.
  if (counted.bytes() < bytes)
    throw new Problem('bad-log', counted.lastText(), 'Try again with a complete copy of the log.');
  return { ...replayed, share: share() };
}

/** Counts the bytes of a source, and keeps the last text that it reported. */
function counting(source: Source) {
  let bytes = 0;
  let lastText = '';
  const counted = listeningTo(source, (listener) => ({
    opened: () => listener.opened(),
    bytes(chunk, arrivalMs) {
      bytes += chunk.length;
      listener.bytes(chunk, arrivalMs);
    },
    status(status) {
      listener.status(status);
      lastText = status.text;
    },
  }));
  return { source: counted, bytes: () => bytes, lastText: () => lastText };
}
