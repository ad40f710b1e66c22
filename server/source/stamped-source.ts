import { StampedTime, timeStampOf, withoutTimeTitle } from '../reading/time-stamp.ts';
import type { Source, SourceListener } from './source.ts';

const LF = 10;

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
  return {
    status: (status) => listener.status(status),
    opened() {
      listener.opened();
      // On a live cable the first line may be cut; here it is whole, and must not be taken for one.
      listener.bytes(Uint8Array.of(LF), null);
    },
    bytes(chunk) {
      const bytes = rest.length === 0 ? Buffer.from(chunk) : Buffer.concat([rest, chunk]);
      const end = bytes.lastIndexOf(LF) + 1;
      rest = bytes.subarray(end);
      // Lines of one stamp came together, and are spread over the time since the one before.
      let together = '';
      let togetherMs = 0;
      const pass = () => {
        if (together !== '') listener.bytes(Buffer.from(together, 'latin1'), startMs + togetherMs);
        together = '';
      };
      for (const line of bytes.toString('latin1', 0, end).split('\n').slice(0, -1)) {
        const stamp = timeStampOf(line);
        const elapsedMs = stamp === null ? time.elapsedMs : time.next(stamp);
        if (elapsedMs !== togetherMs) pass();
        togetherMs = elapsedMs;
        together += `${stamp === null ? withoutTimeTitle(line) : line.slice(stamp.length)}\n`;
      }
      pass();
    },
  };
}
