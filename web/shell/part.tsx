import type { ComponentChildren } from 'preact';

interface Props {
  readonly id: string;
  readonly title: string;
  /** One or two sentences on what is shown. */
  readonly lead?: ComponentChildren;
  readonly children: ComponentChildren;
}

/** A section of a page: heading and introduction on the left, content on the right. */
export function Part({ id, title, lead, children }: Props) {
  return (
    <section class="part" aria-labelledby={`${id}-title`} id={id}>
      <header class="part-intro">
        <h2 id={`${id}-title`}>{title}</h2>
        {lead && <p>{lead}</p>}
      </header>
      <div class="part-body">{children}</div>
    </section>
  );
}
