import { useId } from 'preact/hooks';
import { percent } from '../format/numbers.ts';

interface Props {
  /** 0…1; null = not known. */
  readonly share: number | null;
  readonly text: string;
  /** null = it cannot be stopped. */
  readonly stop: (() => void) | null;
}

/** The progress of an import or an export, and a button that stops it. */
export function ProgressLine({ share, text, stop }: Props) {
  const id = useId();
  return (
    <div class="progress-line" role="status">
      <p>
        <label for={id}>{text}</label>
        {share !== null && <b>{percent(share)}</b>}
      </p>
      <progress id={id} max={1} value={share ?? undefined} />
      {stop && (
        <button type="button" class="plain" onClick={stop}>
          Cancel
        </button>
      )}
    </div>
  );
}
