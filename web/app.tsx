import { AttentionKeeper } from './attention/attention-button.tsx';
import { LabelPage } from './label/label-page.tsx';
import { LivePage } from './live/live-page.tsx';
import { WallPage } from './live/wall-page.tsx';
import { PrintersPage } from './printers/printers-page.tsx';
import { RewinderPage } from './rewinder/rewinder-page.tsx';
import { RunPage } from './runs/run-page.tsx';
import { RunsPage } from './runs/runs-page.tsx';
import { SetUpPage } from './set-up/set-up-page.tsx';
import { AccessKeyDialog } from './shell/access-key-dialog.tsx';
import { ConnectionBanner } from './shell/connection-banner.tsx';
import { Footer } from './shell/footer.tsx';
import { Lazily } from './shell/lazily.tsx';
import { Masthead } from './shell/masthead.tsx';
import { Notice } from './shell/notice.tsx';
import { route } from './shell/router.ts';
import { SpoolPage } from './spool/spool-page.tsx';

const alarmsPage = () => import('./alarms/alarms-page.tsx');
const peoplePage = () => import('./people/people-page.tsx');
const answerPage = () => import('./answer/answer-page.tsx');

export function App() {
  const at = route.value;
  if (at.page === 'wall') {
    return (
      <>
        <ConnectionBanner />
        <WallPage />
        <AccessKeyDialog />
        <AttentionKeeper />
      </>
    );
  }
  return (
    <>
      <a class="skip" href="#content">
        Skip to the page
      </a>
      <Masthead />
      <ConnectionBanner />
      <main id="content" tabIndex={-1}>
        {at.page === 'live' && <LivePage />}
        {at.page === 'spool' && <SpoolPage key={at.id ?? 'newest'} spoolId={at.id} />}
        {at.page === 'runs' && <RunsPage />}
        {at.page === 'run' && <RunPage key={at.id} runId={at.id} />}
        {at.page === 'rewinder' && <RewinderPage key={at.id} spoolId={at.id} />}
        {at.page === 'label' && <LabelPage key={at.id} spoolId={at.id} />}
        {at.page === 'printers' && <PrintersPage />}
        {at.page === 'alarms' && <Lazily page={alarmsPage} with={{}} />}
        {at.page === 'people' && <Lazily page={peoplePage} with={{}} />}
        {at.page === 'answer' && <Lazily page={answerPage} with={{ token: at.token }} />}
        {at.page === 'set-up' && <SetUpPage />}
        {at.page === 'unknown' && (
          <section class="prose">
            <h1>There is no such page.</h1>
            <p>
              Try <a href="/">Live</a>, <a href="/spool">Spool</a>, <a href="/runs">Runs</a> or{' '}
              <a href="/set-up">Set-up</a>.
            </p>
          </section>
        )}
      </main>
      <Footer />
      <Notice />
      <AccessKeyDialog />
    </>
  );
}
