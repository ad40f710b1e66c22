import { effect } from '@preact/signals';
import { connection, live } from '../service/live-store.ts';
import { type ShownTitle, titleNow } from './page-title.ts';
import { route } from './router.ts';

type Mood = 'calm' | 'notice' | 'abnormal' | 'danger' | 'lost';

const STRAND = 'M0 13h7c4 0 5-5 9-5s5 5 9 5h7v6h-7c-4 0-5 5-9 5s-5-5-9-5H0z';
const BODIES: Record<Mood, string> = {
  calm: `<path d='${STRAND}' fill='%236f817c'/>`,
  notice: `<path d='${STRAND}' fill='%232f7fc4'/>`,
  abnormal: `<path d='M16 1 32 31H0z' fill='%23f2b705'/><path d='M16 11v10M16 24v3' stroke='%23231a00' stroke-width='4'/>`,
  danger: `<path d='M9 0h14l9 9v14l-9 9H9l-9-9V9z' fill='%23c8161d'/><path d='M16 6v12M16 22v4' stroke='white' stroke-width='4.5'/>`,
  lost: `<path d='M9 0h14l9 9v14l-9 9H9l-9-9V9z' fill='%23c8161d'/><path d='M9 9l14 14M23 9 9 23' stroke='white' stroke-width='4'/>`,
};

/** The page's icon as a data URL. Its shape and colour show the state in a row of tabs. */
function iconOf(mood: Mood): string {
  return `data:image/svg+xml,<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 32 32'>${BODIES[mood]}</svg>`;
}

const PAGE_TEXT: Record<string, string> = {
  spool: 'Spool',
  rewinder: 'Rewinder',
  label: 'Label',
  runs: 'Runs',
  run: 'Run',
  printers: 'Printers',
  alarms: 'Alarms',
  night: 'Before bed',
  'set-up': 'Set-up',
};

/** Updates the title and icon of the tab with the state of the line, on every page. */
export function startPageIcon(): void {
  const link = document.querySelector<HTMLLinkElement>('link[rel="icon"]')!;
  let shown: ShownTitle = { text: '', about: '', sinceMs: 0 };
  effect(() => {
    const state = live.value;
    const lost = connection.value.phase === 'lost';
    const mood: Mood = lost ? 'lost' : (state?.severity ?? 'calm');
    const icon = iconOf(mood);
    if (link.href !== icon) link.href = icon;
    const page = PAGE_TEXT[route.value.page];
    const about = lost ? 'Connection lost' : state?.title;
    const calm = mood === 'calm' || mood === 'notice';
    const words = page !== undefined && calm ? page : about;
    const text = words === undefined ? 'Strandward' : `${words} – Strandward`;
    shown = titleNow(shown, { text, about: `${mood} ${state?.sentenceAlarmId} ${page}` }, Date.now());
    if (document.title !== shown.text) document.title = shown.text;
  });
}
