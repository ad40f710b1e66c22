import type { ComponentChildren } from 'preact';

interface Props {
  readonly class?: string;
  /** The text of its button. */
  readonly button: string;
  readonly buttonClass?: string;
  /** False while what is entered cannot be used. */
  readonly ready: boolean;
  readonly submit: () => void;
  readonly children: ComponentChildren;
}

/** One or a few fields in a row, and the button that uses them. */
export function InlineForm({
  class: look = 'inline-form no-print',
  button,
  buttonClass,
  ready,
  submit,
  children,
}: Props) {
  return (
    <form
      class={look}
      onSubmit={(event) => {
        event.preventDefault();
        if (ready) submit();
      }}
    >
      {children}
      <button type="submit" class={buttonClass} disabled={!ready}>
        {button}
      </button>
    </form>
  );
}
