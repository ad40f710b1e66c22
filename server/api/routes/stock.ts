import type { UseAmount } from '../../entities/strand-use.ts';
import { placesFromFeed } from '../../monitor/spool/labelled-strand.ts';
import { gaugeMmAt } from '../../monitor/spool/wound-spool.ts';
import type { OnShelf } from '../../monitor/stock/shelf.ts';
import type { StockService } from '../../monitor/stock/stock-service.ts';
import { Problem } from '../../problem/problem.ts';
import { LOW_MM } from '../../stock/coil-stock.ts';
import { judgedAtMark } from '../../stock/judged-at-mark.ts';
import { printAmountOf } from '../../strand/verdict/print-fit.ts';
import type { UseInput } from '../contract/stock.ts';
import { type Api, serve } from '../serve.ts';

/** The shelf: what is left, which strand fits a print, and what became of it. */
export function stockRoutes(api: Api, stock: StockService): void {
  serve(api, 'GET /api/stock', async ({ query: { newest } }) => {
    const items: ReturnType<typeof itemView>[] = [];
    for await (const item of stock.shelf(newest)) items.push(itemView(item));
    return { lowMm: LOW_MM, items, isComplete: newest === undefined || newest >= stock.runs() };
  });

  serve(api, 'GET /api/stock/fit', ({ query: { metres, grams, printerId } }) =>
    stock.which(printAmountOf(metres, grams), printerId ?? null),
  );

  serve(api, 'GET /api/stock/:code', async ({ params }) => detailView(await stock.find(params.code)));

  serve(api, 'POST /api/stock/:code/uses', async ({ params, body, by }) => {
    const { kind, print = null, printerId = null, lastEntryId: lastSeenId = null } = body;
    return detailView(await stock.state(params.code, { kind, used: usedOf(body), print, printerId, lastSeenId }, by));
  });

  serve(api, 'DELETE /api/stock/:code/uses/:id', async ({ params, by }) =>
    detailView(await stock.takeBack(params.code, params.id, by)),
  );

  serve(api, 'GET /api/promises', async () => ({ rows: await stock.promises() }));

  serve(api, 'GET /api/yields', async () => ({ rows: await stock.yields() }));
}

/** @throws Problem `bad-length` */
function usedOf({ used }: UseInput): UseAmount | null {
  if (used === undefined) return null;
  const { unit, amount } = used;
  if (unit === 'all') return { unit };
  if (amount !== undefined) return { amount, unit };
  throw new Problem('bad-length', 'The amount is missing.', 'Give a number above zero.', { pointer: '/used/amount' });
}

function itemView({ judged, stock, whole, coil, uses, isExample, ...item }: OnShelf) {
  const { run, spool } = judged.woundSpool;
  const colour = run.lot?.values.colour;
  return {
    ...item,
    ...stock,
    kind: coil === null ? ('spool' as const) : ('coil' as const),
    spoolId: spool.id,
    runId: run.id,
    startedMs: spool.startedMs,
    timeZone: run.timeZone,
    example: isExample,
    material: run.lot?.name ?? '',
    colour: typeof colour === 'string' ? colour : '',
    lengthMm: whole.lengthMm,
    leftGrams: whole.gramsPerMm === null ? null : stock.leftMm * whole.gramsPerMm,
    usedUpBy: stock.usedUp?.who ?? null,
    isLow: stock.leftMm < LOW_MM,
    lastEntryId: uses.at(-1)?.id ?? 0,
  };
}

function detailView(item: OnShelf) {
  const { judged, strand, feeds, stock, uses } = item;
  const places = placesFromFeed(judged, strand, feeds);
  const { woundSpool } = judged;
  const gaugeAt = (feedMm: number) =>
    gaugeMmAt(woundSpool, feeds === 'inner' ? strand.fromMm + feedMm : strand.toMm - feedMm);
  return {
    item: itemView(item),
    entries: uses.map((use) => ({
      ...use,
      used: use.used && { amount: use.used.unit === 'all' ? null : use.used.amount, unit: use.used.unit },
    })),
    prints: stock.prints.map((print) => ({
      ...print,
      marks: print.marks.map((mark) => ({
        kind: mark.kind,
        entryId: mark.id,
        fromFeedMm: mark.atMm,
        uncertaintyMm: mark.uncertaintyMm,
        gaugeMm: mark.atMm === null ? null : gaugeAt(mark.atMm),
        gaugeUncertaintyMm: mark.uncertaintyMm / woundSpool.scale.factor,
        judged: judgedAtMark(mark, places),
      })),
    })),
  };
}
