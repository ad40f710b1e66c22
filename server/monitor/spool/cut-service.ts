import type { Printer } from '../../entities/printer.ts';
import type { KeptCut, Spool, SpoolChoices } from '../../entities/spool.ts';
import { Problem, within } from '../../problem/problem.ts';
import { counted } from '../../problem/sentence.ts';
import { keptBy } from '../../strand/plan/cut-plan.ts';
import type { DoneCut } from '../../strand/plan/done-cuts.ts';
import { afterCuts } from '../../strand/verdict/spool-verdict.ts';
import type { Clock } from '../clock.ts';
import type { RecordWriter } from '../ports/record.ts';
import type { SpoolStatements } from '../ports/spool-statements.ts';
import { type Judgement, jointWarnings } from './judgement.ts';
import { requireStrand, type SpoolJudge } from './spool-judge.ts';
import type { SpoolRepository } from './spool-repository.ts';
import { doneCuts, gaugeMmAt, type WoundSpool } from './wound-spool.ts';

export interface CutServiceParts {
  readonly writer: RecordWriter;
  readonly statements: SpoolStatements;
  readonly spools: SpoolRepository;
  readonly judge: SpoolJudge;
  readonly clock: Clock;
  /** @throws Problem `unknown-printer` */
  printer(id: number): Printer;
  /** Called after each change, so that open pages load the spool again. */
  changed(): void;
}

const SHORTEST_COIL_MAX_MM = 1_000_000;

const OBJECTIVE_TEXT: Record<SpoolChoices['objective'], string> = {
  mostLength: 'the most length',
  fewestCuts: 'the fewest cuts',
  longestCoil: 'the longest coil',
  prints: 'coils for a list of prints',
};

/** Lets users choose how a spool is judged and cut, tick off cuts or take them back, and name coils. Append only. */
export class CutService {
  readonly #parts: CutServiceParts;

  constructor(parts: CutServiceParts) {
    this.#parts = parts;
  }

  /** @throws Problem `unknown-spool`, `unknown-printer`, `bad-printer`, `bad-choice` */
  choose(spoolId: number, change: Partial<SpoolChoices>, who: string): SpoolChoices {
    const { spools, judge, statements, clock } = this.#parts;
    const woundSpool = spools.wound(spoolId);
    const choices = { ...woundSpool.choices, ...change };
    const { printerId } = change;
    if (printerId !== undefined) within('/printerId', () => judge.limitsBy(woundSpool, this.#parts.printer(printerId)));
    const { printer } = judge.printerOf({ ...woundSpool, choices });
    const { shortestMm } = choices;
    if (shortestMm !== null && !(shortestMm > 0 && shortestMm <= SHORTEST_COIL_MAX_MM))
      throw new Problem(
        'bad-choice',
        `The shortest coil worth keeping cannot be ${shortestMm} mm.`,
        `Give a length above 0 and up to ${SHORTEST_COIL_MAX_MM} mm, or null for the line’s own setting.`,
        { pointer: '/shortestMm' },
      );
    statements.choose(spoolId, choices, clock(), who);
    const { objective, doubtful, unknown } = choices;
    const summary = [
      `for ${printer.name}`,
      OBJECTIVE_TEXT[objective],
      shortestMm === null ? 'the line’s shortest coil' : `coils from ${(shortestMm / 1000).toFixed(1)} m`,
      `doubtful stretches: ${doubtful}`,
      `not measured: ${unknown}`,
    ];
    this.#log(woundSpool.spool, who, `Chose how spool ${woundSpool.spool.ordinal} is cut: ${summary.join(', ')}.`);
    this.#parts.changed();
    return choices;
  }

  /**
   * Records cuts: all of them, or none.
   * @param cutsBefore the number of cuts that the user's page showed; null = not known
   * @returns the judgement with the plan for the remaining spool
   * @throws Problem `wrong-state` while the spool is being wound, or if another page was faster; `bad-cut` for an
   * impossible cut
   */
  tick(spoolId: number, cuts: readonly DoneCut[], cutsBefore: number | null, who: string): Promise<Judgement> {
    return this.#record(spoolId, cuts, false, cutsBefore, who);
  }

  /**
   * Records the pieces into which the last one was cut, from its outer end: all of them, or none.
   * @throws Problem as `tick`, and `wrong-state` if there is no cut
   */
  replaceLast(spoolId: number, pieces: readonly DoneCut[], cutsBefore: number | null, who: string): Promise<Judgement> {
    return this.#record(spoolId, pieces, true, cutsBefore, who);
  }

  async #record(
    spoolId: number,
    cuts: readonly DoneCut[],
    insteadOfLast: boolean,
    cutsBefore: number | null,
    who: string,
  ): Promise<Judgement> {
    const { spools, judge, statements, clock } = this.#parts;
    const before = await judge.judge(spoolId);
    const { woundSpool } = before;
    requireStrand(woundSpool);
    requireCuttable(spools.wound(spoolId), cutsBefore ?? woundSpool.cuts.length);
    if (insteadOfLast && woundSpool.cuts.length === 0) throw noCut(woundSpool.spool);
    const standing = insteadOfLast ? woundSpool.cuts.length - 1 : woundSpool.cuts.length;
    const plan = await judge.planAfter(before, [...doneCuts(woundSpool).slice(0, standing), ...cuts]);
    // Another page may have recorded a cut during planning.
    requireCuttable(spools.wound(spoolId), woundSpool.cuts.length);
    const gaugeMm = (outerMm: number) => gaugeMmAt(woundSpool, before.woundMm - outerMm);
    spools.requireUnmoved(woundSpool.spool);
    const placed = cuts.map((cut, i) => {
      const piece = plan.donePieces[standing + i];
      if (piece === undefined) throw new TypeError('A plan after a cut has a piece for that cut.');
      return {
        action: cut.action,
        countedMm: cut.countedMm,
        landmarkCountedMm: cut.landmarkCountedMm ?? null,
        reachedEnd: cut.reachedEnd ?? false,
        atMs: clock(),
        who,
        place: {
          fromGaugeMm: gaugeMm(piece.fromOuterMm),
          toGaugeMm: gaugeMm(piece.toOuterMm),
          knownToGaugeMm: gaugeMm(piece.knownToMm),
          lengthFactor: woundSpool.scale.factor,
        },
      };
    });
    const added = statements.addCuts(woundSpool.spool.id, placed, insteadOfLast);
    const what = added.map(cutText).join(', ');
    this.#log(
      woundSpool.spool,
      who,
      insteadOfLast
        ? `Corrected the last cut of spool ${woundSpool.spool.ordinal}: ${what}.`
        : `Cut spool ${woundSpool.spool.ordinal}: ${what}.`,
    );
    const verdict =
      before.verdict === null ? null : afterCuts(before.verdict, plan, `spool ${woundSpool.name}`, before.printerName);
    const judgement: Judgement = {
      ...before,
      woundSpool: { ...woundSpool, cuts: [...woundSpool.cuts.slice(0, standing), ...added] },
      plan,
      kept: keptBy(plan),
      verdict,
      warnings: [
        ...(verdict?.fitness === 'unknown' ? [verdict.sentence] : []),
        ...plan.warnings,
        ...jointWarnings(before),
      ],
    };
    judge.remember(judgement);
    this.#parts.changed();
    return judgement;
  }

  /** @throws Problem `wrong-state` if there is no cut, or if another page was faster */
  takeBackLast(spoolId: number, cutsBefore: number | null, who: string): Promise<Judgement> {
    const { spools, judge, statements, clock } = this.#parts;
    const { spool, cuts } = spools.wound(spoolId);
    requireUnchanged(cuts, cutsBefore ?? cuts.length);
    const taken = statements.takeBackLastCut(spool.id, clock(), who);
    if (taken === null) throw noCut(spool);
    this.#log(spool, who, `Undid the last cut of spool ${spool.ordinal}: ${cutText(taken)}.`);
    this.#parts.changed();
    return judge.judge(spoolId);
  }

  /**
   * The name belongs to the strand of the coil, even if a later plan divides it differently.
   * @param ordinal counts from 1, in the order in which coils come off
   * @param name empty = restore the name given by the plan
   * @throws Problem `unknown-coil`; `bad-name` if another coil has that name
   */
  async nameCoil(spoolId: number, ordinal: number, name: string, who: string): Promise<Judgement> {
    const { judge, statements, clock } = this.#parts;
    const { woundSpool, plan } = await judge.judge(spoolId);
    const { spool } = woundSpool;
    const coils = plan?.coils ?? [];
    const coil = coils[ordinal - 1];
    if (coil === undefined) {
      throw new Problem(
        'unknown-coil',
        `The cut list of spool ${spool.ordinal} has ${coils.length} coils, so there is no coil ${ordinal}.`,
        'Load the cut list again and choose one there.',
      );
    }
    const trimmed = name.trim();
    const sameName = coils.findIndex((other, i) => i !== ordinal - 1 && other.name === trimmed);
    if (trimmed !== '' && sameName >= 0) {
      throw new Problem('bad-name', `Coil ${sameName + 1} is already called “${trimmed}”.`, 'Give another name.', {
        pointer: '/name',
      });
    }
    const place = { fromGaugeMm: gaugeMmAt(woundSpool, coil.fromMm), toGaugeMm: gaugeMmAt(woundSpool, coil.toMm) };
    statements.nameCoil(spool.id, { coil: ordinal, name: trimmed, place }, clock(), who);
    this.#log(
      spool,
      who,
      trimmed === ''
        ? `Removed the name of coil ${ordinal} of spool ${spool.ordinal}.`
        : `Named coil ${ordinal} of spool ${spool.ordinal} “${trimmed}”.`,
    );
    this.#parts.changed();
    return judge.judge(spoolId);
  }

  #log(spool: Spool, who: string, what: string): void {
    this.#parts.writer.log({ timeMs: this.#parts.clock(), runId: spool.runId, who, what });
  }
}

function requireCuttable({ spool, cuts }: WoundSpool, cutsBefore: number): void {
  if (spool.endGaugeMm === null) {
    throw new Problem(
      'wrong-state',
      `Spool ${spool.ordinal} is still being wound, so nothing can be cut from it.`,
      'Take it off the winder first: end the spool on the live page.',
    );
  }
  requireUnchanged(cuts, cutsBefore);
}

function requireUnchanged(cuts: readonly KeptCut[], cutsBefore: number): void {
  if (cutsBefore === cuts.length) return;
  throw new Problem(
    'wrong-state',
    `Another page changed the cuts of this spool: ${counted(cuts.length, 'cut')} ${cuts.length === 1 ? 'is' : 'are'} ticked off, not ${cutsBefore}.`,
    'Load the cut list again and continue with its first step.',
    { pointer: '/cutsBefore' },
  );
}

function noCut(spool: Spool): Problem {
  return new Problem(
    'wrong-state',
    `No cut of spool ${spool.ordinal} is ticked off, so there is none to change or undo.`,
    'Load the cut list again.',
  );
}

function cutText(cut: KeptCut): string {
  return `${cut.action === 'keep' ? 'kept' : 'discarded'} ${(cut.countedMm / 1000).toFixed(3)} m`;
}
