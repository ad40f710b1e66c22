import type { Printer } from '../../entities/printer.ts';
import type { StrandUse } from '../../entities/strand-use.ts';
import { Problem } from '../../problem/problem.ts';
import { requirePossible } from '../../stock/check-use.ts';
import { coilStock, type PrintOfStrand } from '../../stock/coil-stock.ts';
import { type PromiseRow, promisesKept } from '../../stock/promises.ts';
import { type ShelfFit, whichFits } from '../../stock/which-fits.ts';
import { type YieldRow, yields } from '../../stock/yields.ts';
import { type PrintAmount, requirePrintAmount } from '../../strand/verdict/print-fit.ts';
import { inTurns } from '../../worker/in-turns.ts';
import type { Clock } from '../clock.ts';
import type { RecordReader, RecordWriter } from '../ports/record.ts';
import type { SpoolStatements } from '../ports/spool-statements.ts';
import { labelledStrand } from '../spool/labelled-strand.ts';
import type { SpoolJudge } from '../spool/spool-judge.ts';
import type { SpoolRepository } from '../spool/spool-repository.ts';
import { isWinding, woundMm } from '../spool/wound-spool.ts';
import { fedRuns } from './fed-runs.ts';
import { fitnessFor, type OnShelf, placeOf, type ShelvedSpool, shelved } from './shelf.ts';
import { useText } from './use-text.ts';

export interface StockServiceParts {
  readonly reader: RecordReader;
  readonly writer: Pick<RecordWriter, 'log'>;
  readonly statements: SpoolStatements;
  readonly spools: SpoolRepository;
  readonly judge: SpoolJudge;
  readonly clock: Clock;
  /** @throws Problem `unknown-printer` */
  printer(id: number): Printer;
  /** Called after each change, so that open pages load again. */
  changed(): void;
}

export interface UseStated extends Pick<StrandUse, 'kind' | 'used' | 'print'> {
  /** null = the one chosen for the spool. */
  readonly printerId: number | null;
  /** The last entry that the user's page showed, 0 = none; null = not known. */
  readonly lastSeenId: number | null;
}

/** Keeps the shelf: what is left of every coil and uncut spool, what users take from it, and what became of the prints. */
export class StockService {
  readonly #parts: StockServiceParts;

  constructor(parts: StockServiceParts) {
    this.#parts = parts;
  }

  /** All coils and uncut spools, the newest run first. @param newest those of so many of the newest runs */
  async *shelf(newest?: number): AsyncGenerator<OnShelf> {
    for await (const { items } of this.#spools(newest)) yield* items;
  }

  /** Number of runs in the record. */
  runs(): number {
    return this.#parts.reader.runs().length;
  }

  /** @throws Problem `unknown-spool`, `unknown-coil` */
  async find(code: string): Promise<OnShelf> {
    const { judged, coil } = await labelledStrand(code, this.#parts);
    const { woundSpool } = judged;
    const { items } = shelved(judged, this.#parts.statements.uses(woundSpool.spool.id));
    const item = items.find((one) => one.coil?.letter === coil?.letter);
    if (item !== undefined) return item;
    throw new Problem(
      'wrong-state',
      isWinding(woundSpool)
        ? `Spool ${woundSpool.name} is still being wound.`
        : `Spool ${woundSpool.name} is cut into coils, so nothing is left on it.`,
      isWinding(woundSpool) ? 'Take it off the winder first.' : 'Use the label of one of its coils.',
    );
  }

  /**
   * Which strand is long enough for a print, over the whole shelf without examples.
   * @param printerId null = each spool by the printer chosen for it
   * @throws Problem `bad-length`, `unknown-printer`
   */
  async which(print: PrintAmount, printerId: number | null): Promise<ShelfFit> {
    requirePrintAmount(print);
    const printer = printerId === null ? null : this.#parts.printer(printerId);
    const offers = [];
    for await (const item of this.shelf()) {
      if (item.isExample || item.stock.leftMm === 0) continue;
      const { limits, woundSpool } = item.judged;
      offers.push({
        code: item.code,
        name: item.name,
        ...item.stock,
        fitness: printer === null ? item.fitness : await fitnessFor(item, printer, this.#parts.judge),
        longestPieceMm: item.longestPieceMm,
        nominalMm: limits.nominalMm,
        densityGPerCm3: woundSpool.settings.densityGPerCm3,
      });
    }
    return whichFits(offers, print);
  }

  /**
   * Records strand that was used, or a step of a print.
   * @throws Problem `unknown-spool`, `unknown-coil`, `unknown-printer`; `bad-length` for an impossible amount; `wrong-state` if
   * nothing is left or another page was faster
   */
  async state(code: string, stated: UseStated, who: string): Promise<OnShelf> {
    const { statements, judge, clock } = this.#parts;
    const item = await this.find(code);
    const { woundSpool } = item.judged;
    const { kind, used, print } = stated;
    const isPrint = kind !== 'used';
    // A step of a running print is on its printer, unless another one is named.
    const last = item.stock.prints.at(-1);
    const running =
      isPrint && kind !== 'started' && stated.printerId === null && last?.isRunning === true ? last : null;
    const printer = isPrint && running === null ? this.#printerFor(item, stated.printerId) : null;
    const called = printer === null ? (running?.called ?? null) : await fitnessFor(item, printer, judge);
    // From here on nothing else can be stated in between.
    this.#parts.spools.requireUnmoved(woundSpool.spool);
    const spoolId = woundSpool.spool.id;
    const now = shelved(item.judged, statements.uses(spoolId)).items.find((one) => one.code === item.code) ?? item;
    requireSeen(now, stated.lastSeenId);
    requirePossible({ kind, used, print }, now.uses, now.whole, now.name);
    const use = {
      kind,
      place: placeOf(item),
      feeds: item.feeds,
      used,
      print,
      printer: printer?.name ?? running?.printer ?? null,
      called,
    };
    statements.addUse(spoolId, { ...use, atMs: clock(), who });
    this.#log(item, who, `${useText(use)} (${item.name}).`);
    this.#parts.changed();
    return this.find(code);
  }

  /** @throws Problem `unknown-spool`, `unknown-coil`; `wrong-state` if the entry does not count any more */
  async takeBack(code: string, id: number, who: string): Promise<OnShelf> {
    const { statements, clock } = this.#parts;
    const item = await this.find(code);
    const spoolId = item.judged.woundSpool.spool.id;
    const use = item.uses.find((one) => one.id === id);
    if (use === undefined || !statements.takeBackUse(spoolId, id, clock(), who)) {
      const by = statements.useTakenBackBy(spoolId, id);
      throw new Problem(
        'wrong-state',
        by === null ? `${item.name} has no entry ${id}.` : `${by} has undone this entry already.`,
        'Load the page again; nothing else was changed.',
      );
    }
    this.#log(item, who, `Undid: ${useText(use)} (${item.name}).`);
    this.#parts.changed();
    return this.find(code);
  }

  /** What became of all prints, by the verdict on their strand; without examples. */
  async promises(): Promise<readonly PromiseRow[]> {
    const prints: PrintOfStrand[] = [];
    for await (const { items, unplaced } of this.#spools()) {
      for (const item of items) if (!item.isExample) prints.push(...item.stock.prints);
      // Of coils that were cut again since; their prints still count.
      const [some] = items;
      if (some === undefined || some.isExample) continue;
      const places = new Set(unplaced.map(({ place }) => place.fromGaugeMm));
      for (const fromGaugeMm of places) {
        const ofOne = unplaced.filter(({ place }) => place.fromGaugeMm === fromGaugeMm);
        prints.push(...coilStock(some.whole, ofOne).prints);
      }
    }
    return promisesKept(prints);
  }

  /** How much of the material fed became good strand, by preparation. */
  async yields(): Promise<readonly YieldRow[]> {
    const { reader, spools, judge } = this.#parts;
    return yields(await fedRuns(reader, spools, judge));
  }

  #printerFor({ judged }: OnShelf, printerId: number | null): Printer {
    return printerId === null ? this.#parts.judge.printerOf(judged.woundSpool).printer : this.#parts.printer(printerId);
  }

  /** One after the other: the judgements of all spools together would fill the memory. */
  async *#spools(newest = Number.POSITIVE_INFINITY): AsyncGenerator<ShelvedSpool> {
    const { reader, spools, statements, judge } = this.#parts;
    for await (const run of inTurns(reader.runs().slice(0, newest))) {
      for (const woundSpool of spools.ofRun(run)) {
        if (isWinding(woundSpool) || Math.round(woundMm(woundSpool)) === 0) continue;
        const { id } = woundSpool.spool;
        yield shelved(await judge.judge(id), statements.uses(id));
      }
    }
  }

  #log({ judged }: OnShelf, who: string, what: string): void {
    this.#parts.writer.log({ timeMs: this.#parts.clock(), runId: judged.woundSpool.run.id, who, what });
  }
}

function requireSeen({ name, uses }: OnShelf, lastSeenId: number | null): void {
  const last = uses.at(-1);
  if (lastSeenId === null || (last?.id ?? 0) === lastSeenId) return;
  throw new Problem(
    'wrong-state',
    last === undefined
      ? `The last entry of ${name} was undone on another page.`
      : `${last.who} recorded something about ${name} on another page: ${useText(last)}.`,
    'Look at what is left now, then record it again if it is still needed.',
    { pointer: '/lastSeenId' },
  );
}
