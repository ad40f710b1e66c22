import type { ComponentChildren } from 'preact';
import type { Right } from '../../server/entities/device.ts';
import { may } from '../service/session.ts';

interface Props {
  readonly right: Right;
  /** The reason is somewhere else on the page. */
  readonly quiet?: boolean;
  readonly children: ComponentChildren;
}

/** Controls that need a right. On a device without it they are disabled, below the reason. */
export function Needs({ right, quiet = false, children }: Props) {
  if (may(right)) return children;
  return (
    <fieldset class="needs" disabled>
      {!quiet && (
        <p class="fine needs-why" data-testid="right-missing">
          Only a device with the right to {right} can change this.
        </p>
      )}
      {children}
    </fieldset>
  );
}

/** Why a device that may only watch shows fewer buttons. */
export function WatchOnlyNote() {
  if (may('act')) return null;
  return (
    <p class="watch-only" data-testid="watch-only">
      This device may only watch.
    </p>
  );
}
