import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';

interface Props {
  readonly title: ComponentChildren;
  readonly testId?: string;
  /** On paper it stays out; else it is open there, because paper cannot be pressed. */
  readonly offPaper?: boolean;
  /** At first. */
  readonly isOpen?: boolean;
  readonly children: ComponentChildren;
}

/** A part that is folded until it is pressed. */
export function Fold({ title, testId, offPaper = false, isOpen = false, children }: Props) {
  const place = useRef<HTMLDetailsElement>(null);
  useEffect(() => {
    if (offPaper) return;
    let opened = false;
    const open = () => {
      opened = place.current?.open === false;
      if (opened) place.current!.open = true;
    };
    const close = () => {
      if (opened && place.current) place.current.open = false;
      opened = false;
    };
    addEventListener('beforeprint', open);
    addEventListener('afterprint', close);
    return () => {
      removeEventListener('beforeprint', open);
      removeEventListener('afterprint', close);
    };
  }, [offPaper]);
  return (
    <details ref={place} open={isOpen} class={offPaper ? 'fold no-print' : 'fold'} data-testid={testId}>
      <summary>{title}</summary>
      {children}
    </details>
  );
}
