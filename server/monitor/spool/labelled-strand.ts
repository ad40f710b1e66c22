import { type PrintedCode, readCode } from '../../entities/house.ts';
import type { FeedingEnd } from '../../entities/strand-use.ts';
import { Problem } from '../../problem/problem.ts';
import type { Coil } from '../../strand/plan/coil.ts';
import type { StrandRange } from '../../strand/plan/coil-names.ts';
import type { CutPlan } from '../../strand/plan/cut-plan.ts';
import type { RecordReader } from '../ports/record.ts';
import type { Judgement } from './judgement.ts';
import { requireStrand, type SpoolJudge } from './spool-judge.ts';
import type { SpoolRepository } from './spool-repository.ts';
import { positionMm, type WoundSpool } from './wound-spool.ts';

interface Record {
  readonly reader: RecordReader;
  readonly spools: SpoolRepository;
}

/** The spool or the coil that a printed code stands for. */
export interface LabelledStrand {
  readonly judged: Judgement;
  readonly plan: CutPlan;
  /** null = the whole spool. */
  readonly coil: Coil | null;
  /** Of the coil in the plan; -1 = the whole spool. */
  readonly index: number;
}

/** @throws Problem `unknown-spool`, `unknown-coil`; `wrong-state` for an empty spool */
export async function labelledStrand(
  code: string,
  { judge, ...record }: Record & { readonly judge: SpoolJudge },
): Promise<LabelledStrand> {
  const printed = readCode(code);
  if (printed === null) {
    throw new Problem(
      'unknown-spool',
      `“${code}” is not the code of a label.`,
      'Scan the label again, or type its code as printed, such as K7M-R3-1-A.',
      { pointer: '/code' },
    );
  }
  const { spool } = spoolOf(printed, record);
  const judged = await judge.judge(spool.id);
  const { woundSpool, plan } = judged;
  requireStrand(woundSpool);
  if (plan === null) throw new TypeError(`Spool ${woundSpool.name} was judged without a cut list.`);
  const index = printed.coil === null ? -1 : plan.coils.findIndex(({ letter }) => letter === printed.coil);
  const coil = plan.coils[index];
  if (printed.coil !== null && coil?.state !== 'cut') {
    throw new Problem(
      'unknown-coil',
      coil === undefined
        ? `Spool ${woundSpool.name} has no coil ${printed.coil}: its cuts have changed since the label was printed.`
        : `Coil ${coil.name} is not cut yet, or its cut was undone.`,
      'Look at the cut list of the spool, and print the label again after cutting.',
    );
  }
  return { judged, plan, coil: coil ?? null, index };
}

/** @throws Problem `unknown-spool`, `unknown-run` */
function spoolOf({ house, run, spool }: PrintedCode, { reader, spools }: Record): WoundSpool {
  const runId = reader.runNamed(house, run);
  const name = `${house}-R${run}-${spool}`;
  if (runId === null) {
    const isOurs = house === reader.house();
    throw new Problem(
      'unknown-spool',
      isOurs
        ? `Spool ${name} is not in the record any more: its run was deleted.`
        : `Spool ${name} is from another house: its code starts with ${house}, those of this house with ${reader.house()}.`,
      isOurs
        ? 'Measure the strand before you print with it, or ask who deleted the run.'
        : 'Ask there, or import its run here.',
    );
  }
  const found = spools.ofRun(spools.run(runId)).find((woundSpool) => woundSpool.spool.ordinal === spool);
  if (found !== undefined) return found;
  throw new Problem(
    'unknown-spool',
    `Spool ${name} was deleted.`,
    'If that was a mistake, restore it: the bin is below the list of runs.',
  );
}

/**
 * Stretches that are not good, from the end that feeds. Rewinding turns the strand of a coil round: what was cut last, the
 * inner end, feeds first. A spool feeds from its outer end.
 */
export function placesFromFeed({ woundSpool, sections }: Judgement, strand: StrandRange, feeds: FeedingEnd) {
  const lengthMm = strand.toMm - strand.fromMm;
  const fromFeed = (mm: number) =>
    Math.min(lengthMm, Math.max(0, feeds === 'inner' ? mm - strand.fromMm : strand.toMm - mm));
  return sections
    .flatMap(({ kind, verdict, doubt, peakMm, fromMm, toMm }) => {
      const [from, to] = [positionMm(woundSpool, fromMm), positionMm(woundSpool, toMm)];
      if (verdict === 'good' || to <= strand.fromMm || from >= strand.toMm) return [];
      const ends = [fromFeed(from), fromFeed(to)] as const;
      return [
        { kind, verdict, doubt: doubt ?? null, peakMm, fromFeedMm: Math.min(...ends), toFeedMm: Math.max(...ends) },
      ];
    })
    .sort((a, b) => a.fromFeedMm - b.fromFeedMm);
}
