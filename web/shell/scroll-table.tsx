import type { ComponentChildren } from 'preact';

/** A table that may be wider than the screen. It can also be scrolled by keyboard. */
export function ScrollTable({ label, children }: { label: string; children: ComponentChildren }) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by keyboard
    <section class="table-scroll" aria-label={label} tabIndex={0}>
      {children}
    </section>
  );
}
