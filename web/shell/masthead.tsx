import { awaitsAcknowledgement } from '../../server/alarm/life-cycle.ts';
import { AlertingButton } from '../alerting/alerting-button.tsx';
import { live } from '../service/live-store.ts';
import { showNotice } from './notice.tsx';
import { route } from './router.ts';
import { Shape } from './shape.tsx';

const PAGES = [
  { href: '/', text: 'Live', pages: ['live', 'wall', 'night', 'lines'] },
  { href: '/spool', text: 'Spool', pages: ['spool', 'spools', 'rewinder', 'label'] },
  { href: '/runs', text: 'Runs', pages: ['runs', 'run', 'preparation', 'next', 'compare'] },
  { href: '/stock', text: 'Stock', pages: ['stock', 'labelled'] },
  { href: '/people', text: 'People', pages: ['people', 'phone', 'answer'] },
  { href: '/set-up', text: 'Set-up', pages: ['set-up', 'printers', 'alarms', 'devices'] },
] as const;

export function Masthead() {
  const at = route.value.page;
  const state = live.value;
  const toAnswer = state?.alarms.filter((alarm) => awaitsAcknowledgement(alarm.state)).length ?? 0;
  return (
    <header class="masthead">
      <WordmarkLink />
      {state && <span class="line-name">{state.lineName}</span>}
      <nav class="pages" aria-label="Pages">
        {PAGES.map((page) => (
          <a
            key={page.href}
            href={page.href}
            aria-current={(page.pages as readonly string[]).includes(at) ? 'page' : undefined}
          >
            {page.text}
            {page.href === '/' && toAnswer > 0 && at !== 'live' && (
              <span class="nav-alarms">
                <Shape of={state?.severity === 'danger' ? 'danger' : 'abnormal'} size={14} />
                <span>{toAnswer}</span>
                <span class="visually-hidden"> alarms to answer</span>
              </span>
            )}
          </a>
        ))}
      </nav>
      <AlertingButton tell={(text) => showNotice({ text })} />
    </header>
  );
}

/** The head of a page for those who may not see the others. */
export function Wordmark() {
  return (
    <header class="masthead">
      <WordmarkLink />
    </header>
  );
}

function WordmarkLink() {
  return (
    <a class="wordmark" href="/" aria-label="Strandward, live page">
      <svg width="34" height="16" viewBox="0 0 34 16" aria-hidden="true" focusable="false">
        <path d="M0 6.2h11c3 0 3.6-4.4 7-4.4s4 4.4 7 4.4h9v3.6h-9c-3 0-3.6 4.4-7 4.4s-4-4.4-7-4.4H0z" />
      </svg>
      <span>Strandward</span>
    </a>
  );
}
