import { signal } from '@preact/signals';

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

export function Notice() {
  const notice = shown.value;
  return (
    <div class="toast-place" role="status">
      {notice && (
        <div class="toast">
          <span>{notice.text}</span>
          {notice.undo && (
            <button
              type="button"
              class="plain"
              onClick={() => {
                notice.undo?.();
                shown.value = null;
              }}
            >
              Undo
            </button>
          )}
          <button
            type="button"
            class="plain"
            onClick={() => {
              shown.value = null;
            }}
          >
            Close
          </button>
        </div>
      )}
    </div>
  );
}
