import { useEffect, useRef, useState } from 'preact/hooks';
import type { SpoolView, WindowView } from '../../server/api/contract/runs-and-spools.ts';
import type { DiameterLimits } from '../chart/diameter-scale.ts';
import { tracePath } from '../chart/trace-path.ts';
import { diameter, metres } from '../format/numbers.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { requestSpoolWindow } from '../service/window.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import type { Draft, SpoolModel } from './spool-model.ts';

const COLUMNS = 240;
/** Height of the drawing, in its own units. */
const HIGH = 90;
/** Short sections fill a third of it; blobs of a few millimetres need at least this much strand around them. */
const LEAST_MM = 40;
/** Readings of a fast line are a few millimetres apart. */
const BRIDGED_MM = 10;
/** Nothing is measured more finely. */
const STEP_MM = 0.1;

interface Props {
  readonly model: SpoolModel;
  readonly draft: Draft;
  readonly spool: SpoolView;
  readonly limits: DiameterLimits;
}

/** The strand around the stretch that is being marked, large enough to move its ends by a tenth of a millimetre. */
export function CloseUp({ model, draft, spool, limits }: Props) {
  const place = useRef<SVGSVGElement>(null);
  const [frame, setFrame] = useState(() => frameOf(draft, spool.woundMm));
  const [strand, setStrand] = useState<WindowView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [held, setHeld] = useState<'from' | 'to' | null>(null);
  const { fromMm, toMm } = frame;
  // Ends that a field or the ribbon moved beyond it.
  const beyond = draft.fromMm < fromMm || draft.toMm > toMm;
  useEffect(() => {
    if (beyond && held === null) setFrame(frameOf(draft, spool.woundMm));
  }, [beyond, held]);
  useEffect(() => {
    const controller = new AbortController();
    const question = { from: fromMm, to: toMm, columns: COLUMNS, signals: ['d'] };
    requestSpoolWindow(spool.runId, spool, question, controller.signal).then(setStrand, (thrown) => {
      if (!isAbort(thrown)) setProblem(asProblem(thrown));
    });
    return () => controller.abort();
  }, [spool.runId, fromMm, toMm]);

  const wideMm = toMm - fromMm;
  const [lowMm, highMm] = [limits.smallestFeedableMm - 0.1, limits.hotendLimitMm + 0.2];
  const y = (mm: number) => HIGH * (1 - (Math.min(highMm, Math.max(lowMm, mm)) - lowMm) / (highMm - lowMm));
  const x = (mm: number) => ((mm - fromMm) / wideMm) * COLUMNS;
  const at = (event: PointerEvent): number => {
    const { left, width } = place.current!.getBoundingClientRect();
    const mm = fromMm + Math.min(1, Math.max(0, (event.clientX - left) / width)) * wideMm;
    return Math.round(mm / STEP_MM) * STEP_MM;
  };
  const move = (end: 'from' | 'to', mm: number) => {
    // An end stops at the other one.
    if (end === 'from') model.select(Math.min(mm, draft.toMm - STEP_MM), draft.toMm);
    else model.select(draft.fromMm, Math.max(mm, draft.fromMm + STEP_MM));
  };
  return (
    <figure class="close-up">
      <svg
        ref={place}
        viewBox={`0 0 ${COLUMNS} ${HIGH}`}
        preserveAspectRatio="none"
        role="img"
        aria-label={`The strand from ${metres(fromMm, 3)} to ${metres(toMm, 3)} m, diameters from ${diameter(lowMm)} to ${diameter(highMm)} mm. The fields below move the ends too.`}
        onPointerDown={(event) => {
          const mm = at(event);
          const end = Math.abs(mm - draft.fromMm) <= Math.abs(mm - draft.toMm) ? 'from' : 'to';
          event.currentTarget.setPointerCapture(event.pointerId);
          setHeld(end);
          move(end, mm);
        }}
        onPointerMove={(event) => held && move(held, at(event))}
        onPointerUp={() => setHeld(null)}
        onPointerCancel={() => setHeld(null)}
      >
        <rect
          class="band"
          x={0}
          width={COLUMNS}
          y={y(limits.nominalMm + limits.toleranceMm)}
          height={y(limits.nominalMm - limits.toleranceMm) - y(limits.nominalMm + limits.toleranceMm)}
        />
        <rect
          class="chosen"
          x={x(draft.fromMm)}
          width={Math.max(0, x(draft.toMm) - x(draft.fromMm))}
          y={0}
          height={HIGH}
        />
        {strand && <path class="trace" d={tracePath(strand, y, Math.ceil((BRIDGED_MM / wideMm) * COLUMNS))} />}
        {[draft.fromMm, draft.toMm].map((mm, i) => (
          <line key={i} class="end" x1={x(mm)} x2={x(mm)} y1={0} y2={HIGH} />
        ))}
      </svg>
      <figcaption class="fine">
        <span>{metres(fromMm, 3)} m</span>
        <span>drag an end</span>
        <span>{metres(toMm, 3)} m</span>
      </figcaption>
      {problem && <ProblemNote problem={problem} />}
    </figure>
  );
}

function frameOf({ fromMm, toMm }: Draft, lengthMm: number): { readonly fromMm: number; readonly toMm: number } {
  const half = Math.max(LEAST_MM, 3 * (toMm - fromMm)) / 2;
  const middle = (fromMm + toMm) / 2;
  return { fromMm: Math.max(0, middle - half), toMm: Math.min(lengthMm, middle + half) };
}
