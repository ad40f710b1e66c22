import type { PeopleService } from '../../escalation/people-service.ts';
import type { LineFeed } from '../../front/line-feed.ts';
import type { OtherLines } from '../../front/other-lines.ts';
import { SeenLine } from '../../front/seen-line.ts';
import type { LineMonitor } from '../../monitor/line-monitor.ts';
import type { PrinterService } from '../../monitor/printer-service.ts';
import { printAmountOf } from '../../strand/verdict/print-fit.ts';
import { LinesFrame } from '../contract/lines.ts';
import type { LiveState } from '../contract/live-state.ts';
import { RunView } from '../contract/runs-and-spools.ts';
import { list } from '../contract/schema.ts';
import { StockFitView, StockView } from '../contract/stock.ts';
import { copyToLine } from '../copy-to-line.ts';
import { FeedClients } from '../feed-clients.ts';
import { answerReader } from '../line-reader.ts';
import { linesView, otherLineView } from '../lines-view.ts';
import { writeOnDemand } from '../schemas-on-demand.ts';
import { type Api, serve } from '../serve.ts';

export interface LinesParts {
  readonly monitor: LineMonitor;
  readonly others: OtherLines;
  readonly people: PeopleService;
  readonly printers: PrinterService;
  state(): LiveState;
  failed(thrown: unknown): void;
}

const SEND_EVERY_MS = 250;
const writeFrame = writeOnDemand(LinesFrame);
/** As many as one answer of another line may hold. */
const RUNS_MAX = 1000;
const readRuns = answerReader(list(RunView));
const readStock = answerReader(StockView);
const readFit = answerReader(StockFitView);

/** The other lines of the house, and the feed that shows all of them. */
export function linesRoutes(api: Api, { monitor, others, people, printers, state, failed }: LinesParts) {
  const clients = new FeedClients(failed);
  const own = new SeenLine();
  const frame = (): LinesFrame => {
    own.hearState(state());
    return { kind: 'lines', lines: linesView(own, others.feeds(), Date.now()) };
  };
  const send = () => {
    due = null;
    if (clients.size > 0) clients.send(() => writeFrame(frame()));
  };
  let due: NodeJS.Immediate | null = null;
  const changed = () => {
    due ??= setImmediate(send);
  };
  const timer = setInterval(send, SEND_EVERY_MS);
  clients.start();
  const unsubscribe = [
    others.onChange(changed),
    monitor.subscribe({
      reading: (_reading, gaugeMm, diameterMm) =>
        own.hearReadings({ gaugeMm: [gaugeMm], diameterMm: [Number.isNaN(diameterMm) ? null : diameterMm] }),
      alarms: changed,
    }),
  ];

  serve(api, 'GET /live/lines', frame, (socket, access) =>
    clients.add(socket, access?.credential?.id ?? null, () => writeFrame(frame())),
  );

  const view = (feed: LineFeed) => otherLineView(feed, { ownName: monitor.settings.lineName, feeds: others.feeds() });
  serve(api, 'GET /api/lines', () => others.feeds().map(view));

  serve(api, 'POST /api/lines', ({ body, by }) => view(others.add(body, by)));

  serve(api, 'PUT /api/lines/:id', ({ params, body, by }) => view(others.change(params.id, body, by)));

  serve(api, 'DELETE /api/lines/:id', ({ params, by }) => others.remove(params.id, by));

  serve(api, 'GET /api/lines/:id/runs', async ({ params }) =>
    readRuns(await others.ask(params.id, `/api/runs?newest=${RUNS_MAX}`)),
  );

  serve(api, 'GET /api/lines/:id/stock', async ({ params, query: { newest } }) =>
    readStock(await others.ask(params.id, `/api/stock${newest === undefined ? '' : `?newest=${newest}`}`)),
  );

  serve(api, 'GET /api/lines/:id/stock/fit', async ({ params, query: { metres, grams } }) => {
    const need = printAmountOf(metres, grams);
    const query = new URLSearchParams({ [need.unit]: String(need.amount) });
    return readFit(await others.ask(params.id, `/api/stock/fit?${query}`));
  });

  serve(api, 'POST /api/lines/:id/copy', async ({ params, body, by }) =>
    copyToLine(
      others,
      { id: params.id, token: body.manageToken.trim(), who: by },
      { people: people.overview(), printers: printers.all(), lot: monitor.snapshot().run?.lot ?? null },
    ),
  );

  serve(api, 'POST /api/lines/:id/alarms/:alarmId/acknowledge', ({ params, by }) =>
    others.acknowledge(params.id, params.alarmId, by),
  );

  return {
    closeOf: (credentialId: number) => clients.closeOf(credentialId),
    stop: () => {
      clearInterval(timer);
      if (due !== null) clearImmediate(due);
      for (const end of unsubscribe) end();
      clients.stop();
    },
  };
}
