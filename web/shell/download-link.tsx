import { useEffect, useRef, useState } from 'preact/hooks';
import { megabytes } from '../format/numbers.ts';
import { receiveFile } from '../service/receive-file.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from './problem-note.tsx';
import { ProgressLine } from './progress-line.tsx';

interface Props {
  readonly path: string;
  readonly query?: Readonly<Record<string, string>>;
  readonly text: string;
  /** What it is good for, beside the link. */
  readonly note?: string;
  readonly testId: string;
}

interface Progress {
  readonly bytes: number;
  readonly bytesAbout: number | null;
}

/** What comes sooner needs no progress. */
const SOON_MS = 700;
/** The estimate may be too low, and a full bar would look done. */
const SHARE_MAX = 0.99;
/** Larger files are left to the browser, which writes them to disk as they come. */
const HELD_MAX_BYTES = 500e6;

/** A link to a file that the service makes. If that takes long, it shows how far it is and can be cancelled. */
export function DownloadLink({ path, query = {}, text, note, testId }: Props) {
  const [progress, setProgress] = useState<Progress | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const stop = useRef<AbortController | null>(null);
  useEffect(() => () => stop.current?.abort(), []);
  const search = new URLSearchParams(query).toString();
  const address = search === '' ? path : `${path}?${search}`;
  const load = async () => {
    stop.current?.abort();
    const mine = new AbortController();
    stop.current = mine;
    let at: Progress = { bytes: 0, bytesAbout: null };
    let shown = false;
    const soon = setTimeout(() => {
      shown = true;
      setProgress(at);
    }, SOON_MS);
    setProblem(null);
    try {
      const received = (bytes: number, bytesAbout: number | null) => {
        if ((bytesAbout ?? bytes) > HELD_MAX_BYTES && !mine.signal.aborted) {
          mine.abort();
          save(address, '');
        }
        at = { bytes, bytesAbout };
        if (shown) setProgress(at);
      };
      const { name, file } = await receiveFile(address, received, mine.signal);
      const url = URL.createObjectURL(file);
      save(url, name);
      // The browser reads it after this turn.
      setTimeout(() => URL.revokeObjectURL(url), 60_000);
    } catch (thrown) {
      if (!isAbort(thrown)) setProblem(asProblem(thrown));
    } finally {
      clearTimeout(soon);
      if (stop.current === mine) setProgress(null);
    }
  };
  return (
    <>
      <a
        href={address}
        download
        data-testid={testId}
        onClick={(event) => {
          event.preventDefault();
          void load();
        }}
      >
        {text}
      </a>
      {note && <span class="quiet"> {note}</span>}
      {progress && (
        <ProgressLine
          share={
            progress.bytesAbout && progress.bytes > 0 ? Math.min(SHARE_MAX, progress.bytes / progress.bytesAbout) : null
          }
          text={progress.bytes === 0 ? `Preparing ${text}` : `${text}: ${sizeText(progress)}`}
          stop={() => stop.current?.abort()}
        />
      )}
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}

/** "12 MB of about 52 MB". */
function sizeText({ bytes, bytesAbout }: Progress): string {
  return bytesAbout === null
    ? megabytes(bytes)
    : `${megabytes(bytes)} of about ${megabytes(Math.max(bytes, bytesAbout))}`;
}

/** Hands a file to the browser’s own downloads. */
function save(url: string, name: string): void {
  const link = document.createElement('a');
  [link.href, link.download] = [url, name];
  link.click();
}
