import { render } from 'preact';
import { startAlerting } from './alerting/watch-alarms.ts';
import { App } from './app.tsx';
import { knowClock } from './format/times.ts';
import { fetchPageOf, fetchPagesAhead } from './pages.ts';
import { startLiveConnection } from './service/live-connection.ts';
import { pageData } from './service/page-data.ts';
import { startSettings } from './service/settings.ts';
import { inTurn } from './shell/in-turn.ts';
import { startPageIcon } from './shell/page-icon.ts';
import { route, startRouter } from './shell/router.ts';
import { tellShortenedPastes } from './shell/shortened-paste.ts';
import { startTheme } from './shell/theme.ts';
import './styles/tokens.css';
import './styles/base.css';
import './styles/controls.css';
import './styles/parts.css';
import './styles/charts.css';
import './styles/shell.css';
import './styles/lot.css';
import './styles/live.css';
import './styles/live-top.css';
import './styles/alarm-list.css';
import './styles/heat.css';
import './styles/strand.css';
import './styles/wall.css';
import './styles/spool.css';
import './styles/runs.css';
import './styles/set-up.css';
import './styles/people.css';
import './styles/printers.css';
import './styles/judgement.css';
import './styles/rewinder.css';
import './styles/label.css';
import './styles/print.css';
import 'uplot/dist/uPlot.min.css';

/** Longer without the code of the page, and the reader must learn that it is being fetched. */
const FRAME_MS = 2000;

startTheme();
knowClock(pageData('clock'));
startRouter();
tellShortenedPastes();
const opened = fetchPageOf(route.peek());
// By HTTP the service gives a device without its certificate only the page that helps to install it.
const connected = route.peek().page !== 'certificate';
if (connected) {
  inTurn(startAlerting);
  inTurn(startLiveConnection);
  inTurn(startSettings);
}
// Until then the page shows the frame that came with it. In a separate task: between tasks the browser responds to presses.
void Promise.race([opened, new Promise((resolve) => setTimeout(resolve, FRAME_MS))]).then(() =>
  setTimeout(() => {
    const page = document.getElementById('page')!;
    page.replaceChildren();
    render(<App />, page);
    inTurn(startPageIcon);
  }),
);
if (connected) fetchPagesAhead();
