import { signal } from '@preact/signals';
import type { LinesFrame, SeenLineView } from '../../server/api/contract/lines.ts';
import { lossSounds, mostUrgent, newlyRaised } from '../alerting/alarm-events.ts';
import { announceAlarm, announceLoss } from '../alerting/watch-alarms.ts';
import { connection } from '../service/live-store.ts';

/** All lines, the worst first; null = not heard yet. Kept while the connection is lost, so that the page can show them as old. */
export const lines = signal<readonly SeenLineView[] | null>(null);

const RETRY_MS = 1000;
/** Frames arrive 4 times a second. */
const SILENCE_MS = 4000;

/** Follows the feed of all lines while a page shows it. Returns a function that stops it. */
export function followLines(): () => void {
  let socket: WebSocket | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;
  let silence: ReturnType<typeof setTimeout> | undefined;
  const lose = () => {
    clearTimeout(silence);
    clearTimeout(timer);
    const lost = socket;
    socket = null;
    lost?.close();
    timer = setTimeout(connect, RETRY_MS);
  };
  const connect = () => {
    // The page's own connection tells why there is none; without it this one would fail, too.
    if (connection.peek().phase !== 'open') {
      timer = setTimeout(connect, RETRY_MS / 4);
      return;
    }
    const scheme = location.protocol === 'https:' ? 'wss' : 'ws';
    const opened = new WebSocket(`${scheme}://${location.host}/live/lines`);
    socket = opened;
    silence = setTimeout(lose, SILENCE_MS);
    opened.onmessage = (event) => {
      if (socket !== opened) return;
      clearTimeout(silence);
      silence = setTimeout(lose, SILENCE_MS);
      const frame = JSON.parse(String(event.data)) as LinesFrame | { readonly kind: 'skipped' };
      if (frame.kind === 'lines') take(frame.lines);
    };
    opened.onclose = () => {
      if (socket === opened) lose();
    };
  };
  connect();
  return () => {
    clearTimeout(timer);
    clearTimeout(silence);
    const last = socket;
    socket = null;
    last?.close();
    lines.value = null;
  };
}

const lossSoundedMs = new Map<number, number>();

function take(heard: readonly SeenLineView[]): void {
  const before = new Map((lines.peek() ?? []).map((line) => [line.id, line]));
  lines.value = worstFirst(heard);
  for (const line of heard) {
    // The alarms of this line are announced on every page.
    if (line.id === 0) continue;
    announceChange(before.get(line.id), line);
  }
}

function announceChange(old: SeenLineView | undefined, line: SeenLineView): void {
  const worst = old?.connection === 'open' ? mostUrgent(newlyRaised(old.alarms, line.alarms)) : undefined;
  if (worst) announceAlarm(worst, line);
  if (line.connection !== 'lost') return;
  const nowMs = Date.now();
  if (!lossSounds(nowMs - line.silentForS * 1000, lossSoundedMs.get(line.id) ?? 0, nowMs)) return;
  lossSoundedMs.set(line.id, nowMs);
  announceLoss(line.name);
}

const RANK: Readonly<Record<SeenLineView['severity'], number>> = { danger: 0, abnormal: 1, notice: 2, calm: 3 };

/** By severity, then by alarms that wait for an answer, then by name, so that equal lines keep their places. */
function worstFirst(heard: readonly SeenLineView[]): SeenLineView[] {
  return [...heard].sort(
    (a, b) =>
      RANK[a.severity] - RANK[b.severity] || b.toAnswer - a.toAnswer || a.name.localeCompare(b.name) || a.id - b.id,
  );
}
