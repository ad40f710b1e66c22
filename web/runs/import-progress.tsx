import { useId } from 'preact/hooks';
import { percent } from '../format/numbers.ts';

interface Props {
  /** 0…1; null = not known. */
  readonly share: number | null;
  readonly text: string;
  /** null = it cannot be stopped. */
  readonly stop: (() => void) | null;
}

/** The progress of an import, and a button that stops it. */
export function ImportProgress({ share, text, stop }: Props) {
  const id = useId();
  return (
    <div class="import-progress" role="status">
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
