import { NameQuestion } from './alarms/name-question.tsx';
import { ScreenWakeLock } from './alerting/alerting-button.tsx';
import { pages } from './pages.ts';
import { PairingPage } from './pairing/pairing-page.tsx';
import { unpaired } from './service/session.ts';
import { ConnectionBanner } from './shell/connection-banner.tsx';
import { Footer } from './shell/footer.tsx';
import { Lazily } from './shell/lazily.tsx';
import { Masthead, Wordmark } from './shell/masthead.tsx';
import { WatchOnlyNote } from './shell/needs.tsx';
import { Notice } from './shell/notice.tsx';
import { route } from './shell/router.ts';

export function App() {
  const at = route.value;
  if (at.page === 'certificate') {
    return (
      <>
        <Wordmark />
        <main id="content" tabIndex={-1}>
          <Lazily part={pages.certificate} with={{}} />
        </main>
        <Footer />
      </>
    );
  }
  if (at.page === 'pair' || (unpaired.value && at.page !== 'answer' && at.page !== 'labelled')) {
    return (
      <>
        <Wordmark />
        <main id="content" tabIndex={-1}>
          <PairingPage />
        </main>
        <Footer />
      </>
    );
  }
  if (at.page === 'wall' || at.page === 'lines-wall') {
    return (
      <>
        <Lazily part={pages[at.page]} with={{}} />
        <ScreenWakeLock />
      </>
    );
  }
  return (
    <>
      <a class="skip" href="#content">
        Skip to the page
      </a>
      <Masthead />
      <ScreenWakeLock />
      <ConnectionBanner over={at.page === 'live'} />
      <WatchOnlyNote />
      <main id="content" tabIndex={-1}>
        {at.page === 'live' && <Lazily part={pages.live} with={{}} />}
        {at.page === 'lines' && <Lazily part={pages.lines} with={{}} />}
        {at.page === 'spool' && <Lazily key={at.id ?? 'newest'} part={pages.spool} with={{ spoolId: at.id }} />}
        {at.page === 'spools' && <Lazily part={pages.spools} with={{}} />}
        {at.page === 'runs' && <Lazily part={pages.runs} with={{}} />}
        {at.page === 'compare' && <Lazily part={pages.compare} with={{ groups: at.groups }} />}
        {at.page === 'trends' && <Lazily part={pages.trends} with={{}} />}
        {at.page === 'preparation' && <Lazily part={pages.preparation} with={{}} />}
        {at.page === 'next' && <Lazily part={pages.next} with={{}} />}
        {at.page === 'stock' && <Lazily part={pages.stock} with={{}} />}
        {at.page === 'run' && <Lazily key={at.id} part={pages.run} with={{ runId: at.id }} />}
        {at.page === 'rewinder' && <Lazily key={at.id} part={pages.rewinder} with={{ spoolId: at.id }} />}
        {at.page === 'cut-list' && <Lazily key={at.id} part={pages['cut-list']} with={{ spoolId: at.id }} />}
        {at.page === 'labelled' && <Lazily key={at.code} part={pages.labelled} with={{ code: at.code }} />}
        {at.page === 'label' && <Lazily key={at.id} part={pages.label} with={{ spoolId: at.id }} />}
        {at.page === 'printers' && <Lazily part={pages.printers} with={{}} />}
        {at.page === 'alarms' && <Lazily part={pages.alarms} with={{}} />}
        {at.page === 'devices' && <Lazily part={pages.devices} with={{}} />}
        {at.page === 'night' && <Lazily part={pages.night} with={{}} />}
        {at.page === 'first-evening' && <Lazily part={pages['first-evening']} with={{}} />}
        {at.page === 'people' && <Lazily part={pages.people} with={{}} />}
        {at.page === 'phone' && <Lazily part={pages.phone} with={{}} />}
        {at.page === 'answer' && <Lazily part={pages.answer} with={{ token: at.token }} />}
        {at.page === 'set-up' && <Lazily part={pages['set-up']} with={{}} />}
      </main>
      <Footer />
      <Notice>
        <NameQuestion />
      </Notice>
    </>
  );
}
