import { useSignalEffect } from '@preact/signals';
import { useEffect, useRef, useState } from 'preact/hooks';
import { readColours } from '../chart/colours.ts';
import type { DiameterLimits } from '../chart/diameter-scale.ts';
import { sectionTone } from '../format/names.ts';
import { metres } from '../format/numbers.ts';
import { coloursVersion } from '../shell/theme.ts';
import type { RibbonData } from './ribbon-data.ts';
import { pieces, type RibbonPlan } from './ribbon-plan.ts';
import { paintRow } from './row-painter.ts';
import type { PlacedSection } from './section-order.ts';
import type { SpoolModel } from './spool-model.ts';

interface RowProps {
  readonly row: number;
  readonly plan: RibbonPlan;
  readonly data: RibbonData;
  readonly limits: DiameterLimits;
  readonly sections: readonly PlacedSection[];
  readonly model: SpoolModel;
}

/** One row of the ribbon. Its canvas holds pixels only while it is on or near the screen. */
export function RibbonRow({ row, plan, data, limits, sections, model }: RowProps) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const [seen, setSeen] = useState(false);
  const share = Math.min(1, Math.max(0, (plan.lengthMm - row * plan.rowMm) / plan.rowMm));

  useEffect(() => {
    const node = canvas.current!;
    const watch = new IntersectionObserver(([entry]) => setSeen(entry?.isIntersecting ?? false), {
      rootMargin: '300px',
    });
    watch.observe(node);
    return () => watch.disconnect();
  }, []);

  const paint = () => {
    const node = canvas.current;
    if (!node) return;
    if (!seen) {
      node.width = 0;
      return;
    }
    const columns = data.row(row, plan.lengthMm);
    node.parentElement?.classList.toggle('coming', columns === null);
    paintRow(node, columns, share, limits, readColours());
  };
  useSignalEffect(() => {
    data.version.value;
    coloursVersion.value;
    paint();
  });
  useEffect(paint, [seen, plan, data, limits]);

  const draft = model.draft.value;
  const cursor = model.cursorMm.value;
  const here = Math.min(plan.rows - 1, Math.floor(cursor / plan.rowMm)) === row;
  const percent = (part: number) => `${(part * 100).toFixed(4)}%`;
  return (
    <div class="row" data-row={row}>
      <span class="row-start" aria-hidden="true">
        {metres(row * plan.rowMm, plan.rowMm < 1000 ? 1 : 0)}
      </span>
      <div class="row-strand">
        {sections.flatMap((section) =>
          pieces(plan, section.fromSpoolMm, section.toSpoolMm)
            .filter((piece) => piece.row === row)
            .map((piece) => (
              <span
                key={section.id}
                class={`mark ${section.kind === 'unknown' ? 'unknown' : section.verdict} ${sectionTone(section)}${section.id === draft?.id ? ' chosen' : ''}${section.origin === 'measured' ? '' : ' stated'}`}
                style={{ left: percent(piece.left), width: percent(piece.width) }}
              >
                {piece.first && section.kind !== 'unknown' && section.verdict !== 'good' && <span class="flag" />}
              </span>
            )),
        )}
        <canvas ref={canvas} />
        {draft &&
          pieces(plan, draft.fromMm, draft.toMm)
            .filter((piece) => piece.row === row)
            .map((piece) => (
              <span
                key={piece.row}
                class="selection"
                style={{ left: percent(piece.left), width: percent(piece.width) }}
              >
                {piece.first && <span class="edge from" />}
                {piece.last && <span class="edge to" />}
              </span>
            ))}
        {here && <span class="cursor" style={{ left: percent((cursor - row * plan.rowMm) / plan.rowMm) }} />}
        {share < 1 && <span class="outer-end" style={{ left: percent(share) }} />}
      </div>
    </div>
  );
}
