import type { ComponentChildren } from 'preact';
import { useEffect, useId, useRef } from 'preact/hooks';

interface Question {
  readonly title: string;
  /** What is about to happen. */
  readonly children: ComponentChildren;
  readonly yes: string;
  readonly no: string;
  answer(yes: boolean): void;
}

/** Asks before something ends. Escape means no. */
export function AskFirst({ title, children, yes, no, answer }: Question) {
  const dialog = useRef<HTMLDialogElement>(null);
  const id = useId();
  useEffect(() => dialog.current?.showModal(), []);
  const close = (confirmed: boolean) => {
    // Closing it gives the focus back to the button that opened it.
    dialog.current?.close();
    answer(confirmed);
  };
  return (
    <dialog ref={dialog} class="dialog" aria-labelledby={id} onCancel={() => close(false)}>
      <h2 id={id}>{title}</h2>
      <p class="dialog-lead">{children}</p>
      <p class="actions">
        <button type="button" class="main" onClick={() => close(true)}>
          {yes}
        </button>
        <button type="button" onClick={() => close(false)}>
          {no}
        </button>
      </p>
    </dialog>
  );
}
