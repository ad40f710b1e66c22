import { StampedTime, timeStampOf, withoutTimeTitle } from '../reading/time-stamp.ts';
import type { Source, SourceListener } from './source.ts';

const LF = 10;
/** A longer stretch without a line end is not a line, and is not kept. */
const REST_BYTES_MAX = 4096;
/** If the clock stopped, all lines have one time stamp. At most this many characters are held back. */
const PENDING_CHARS_MAX = 131_072;

/**
 * A recorded log with time stamps before its lines. It removes them and uses them as the lines' arrival times.
 * @param startMs start of the log, UTC ms; the time since the first stamp is added to it
 */
export function stampedSource(log: Source, startMs: number): Source {
  return {
    title: log.title,
    timing: log.timing,
    resumable: log.resumable,
    ...(log.recorded === undefined ? {} : { recorded: log.recorded }),
    start: (listener) => log.start(withoutStamps(listener, startMs)),
    stop: () => log.stop(),
  };
}

function withoutStamps(listener: SourceListener, startMs: number): SourceListener {
  const time = new StampedTime();
  let rest: Uint8Array = new Uint8Array(0);
  // Lines with the same stamp are passed on together, even if they are in two chunks, so that the intake spreads them
  // over the time since the stamp before.
  let pending: string[] = [];
  let pendingChars = 0;
  let pendingMs = 0;
  const pass = () => {
    if (pendingChars > 0) listener.bytes(Buffer.from(pending.join(''), 'latin1'), startMs + pendingMs);
    pending = [];
    pendingChars = 0;
  };
  const hold = (text: string) => {
    const elapsedMs = time.elapsedMs;
    if (elapsedMs !== pendingMs || pendingChars > PENDING_CHARS_MAX) pass();
    pendingMs = elapsedMs;
    pending.push(text);
    pendingChars += text.length;
  };
  return {
    status(status) {
      if (status.phase === 'ended' || status.phase === 'closed') pass();
      listener.status(status);
    },
    opened() {
      listener.opened();
      // The intake ignores the first line of a live cable, which may be incomplete. Here the first line is whole.
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
      // A power cut leaves such stretches. They are passed on and counted as garbage.
      hold(bytes.toString('latin1', end));
      rest = new Uint8Array(0);
    },
  };
}
