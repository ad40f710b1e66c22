const TITLE_LASTS_MS = 10_000;

export interface ShownTitle {
  readonly text: string;
  /** What it is about: another alarm, severity or page shows at once. */
  readonly about: string;
  readonly sinceMs: number;
}

/** The title to show: the wanted one at once if it is about something else, but a new number only every ten seconds. */
export function titleNow(shown: ShownTitle, wanted: Omit<ShownTitle, 'sinceMs'>, nowMs: number): ShownTitle {
  if (wanted.text === shown.text) return shown;
  if (wanted.about === shown.about && nowMs - shown.sinceMs < TITLE_LASTS_MS) return shown;
  return { ...wanted, sinceMs: nowMs };
}
