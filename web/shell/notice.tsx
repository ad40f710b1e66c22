import { signal } from '@preact/signals';
import type { ComponentChildren } from 'preact';

export interface NoticeText {
  readonly text: string;
  readonly undo?: (() => void) | undefined;
  /** How long it stays, ms; usually 20 s. */
  readonly forMs?: number | undefined;
}

const shown = signal<NoticeText | null>(null);
let timer: ReturnType<typeof setTimeout> | undefined;

/** Reports what was just done, with an undo where possible. Stays for a while or until closed. */
export function showNotice(notice: NoticeText): void {
  shown.value = notice;
  clearTimeout(timer);
  timer = setTimeout(() => {
    shown.value = null;
  }, notice.forMs ?? 20_000);
}

/** Takes back a report that no longer holds. */
export function closeNotice(): void {
  shown.value = null;
}

/** At the bottom of the window, with the children below it. */
export function Notice({ children }: { children?: ComponentChildren }) {
  const notice = shown.value;
  return (
    <div class="toast-place">
      <div role="status">
        {notice && (
          <div class="toast">
            <span>{notice.text}</span>
            {notice.undo && (
              <button
                type="button"
                class="plain"
                onClick={() => {
                  // First, because the undo may report at once why it is impossible.
                  closeNotice();
                  notice.undo?.();
                }}
              >
                Undo
              </button>
            )}
            <button type="button" class="plain" onClick={closeNotice}>
              Close
            </button>
          </div>
        )}
      </div>
      {children}
    </div>
  );
}
