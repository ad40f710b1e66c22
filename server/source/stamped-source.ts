import { StampedTime, timeStampOf, withoutTimeTitle } from '../reading/time-stamp.ts';
import type { Source, SourceListener } from './source.ts';

const LF = 10;
/** No line is so long: what has no end by then is no line, and is not kept. */
const REST_BYTES_MAX = 4096;
/** A clock that stood still gives all lines one stamp: no more of them are held back. */
const TOGETHER_CHARS_MAX = 131_072;

/**
 * A recorded log whose lines bear time stamps: they are taken off, and stand for the arrival of the lines.
 * @param startMs when the log began, UTC ms: the stamps tell how long after that each line came
 */
export function stampedSource(log: Source, startMs: number): Source {
  return {
    title: log.title,
    timing: log.timing,
    resumable: log.resumable,
    ...(log.recorded === undefined ? {} : { recorded: log.recorded }),
    start: (listener) => log.start(unstamping(listener, startMs)),
    stop: () => log.stop(),
  };
}

function unstamping(listener: SourceListener, startMs: number): SourceListener {
  const time = new StampedTime();
  let rest: Uint8Array = new Uint8Array(0);
  // Lines of one stamp came together, and are spread over the time since the one before: also those of the next chunk.
  let together: string[] = [];
  let togetherChars = 0;
  let togetherMs = 0;
  const pass = () => {
    if (togetherChars > 0) listener.bytes(Buffer.from(together.join(''), 'latin1'), startMs + togetherMs);
    together = [];
    togetherChars = 0;
  };
  const hold = (text: string) => {
    const elapsedMs = time.elapsedMs;
    if (elapsedMs !== togetherMs || togetherChars > TOGETHER_CHARS_MAX) pass();
    togetherMs = elapsedMs;
    together.push(text);
    togetherChars += text.length;
  };
  return {
    status(status) {
      if (status.phase === 'ended' || status.phase === 'closed') pass();
      listener.status(status);
    },
    opened() {
      listener.opened();
      // On a live cable the first line may be cut; here it is whole, and must not be taken for one.
      listener.bytes(Uint8Array.of(LF), null);
    },
    bytes(chunk) {
      const bytes = rest.length === 0 ? Buffer.from(chunk) : Buffer.concat([rest, chunk]);
      const end = bytes.lastIndexOf(LF) + 1;
      for (const line of bytes.toString('latin1', 0, end).split('\n').slice(0, -1)) {
        const stamp = timeStampOf(line);
        if (stamp !== null) time.next(stamp);
        hold(`${stamp === null ? withoutTimeTitle(line) : line.slice(stamp.length)}\n`);
      }
      rest = bytes.subarray(end);
      if (rest.length <= REST_BYTES_MAX) return;
      // A power cut leaves such stretches. They go on as they are, to be counted as garbage.
      hold(bytes.toString('latin1', end));
      rest = new Uint8Array(0);
    },
  };
}
