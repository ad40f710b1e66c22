import { useRef } from 'preact/hooks';

interface Props {
  readonly text: string;
  readonly testId: string;
  readonly disabled?: boolean;
  readonly chosen: (file: File) => void;
}

/** A button that opens a file. The same file can be chosen again. */
export function FileButton({ text, testId, disabled = false, chosen }: Props) {
  const input = useRef<HTMLInputElement>(null);
  return (
    <p class="actions">
      <input
        ref={input}
        type="file"
        id={testId}
        hidden
        onChange={(event) => {
          const file = event.currentTarget.files?.[0];
          event.currentTarget.value = '';
          if (file) chosen(file);
        }}
      />
      <button type="button" disabled={disabled} onClick={() => input.current?.click()}>
        {text} …
      </button>
    </p>
  );
}
