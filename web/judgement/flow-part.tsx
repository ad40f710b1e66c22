import { useState } from 'preact/hooks';
import type { FlowView, JamView } from '../../server/api/contract/judgement.ts';
import { InlineForm } from '../form/inline-form.tsx';
import { NumberField } from '../form/number-field.tsx';
import { isWithin } from '../form/typed-number.ts';
import { metres, unbroken } from '../format/numbers.ts';
import { Part } from '../shell/part.tsx';
import { ScrollTable } from '../shell/scroll-table.tsx';
import { Term } from '../terms/term.tsx';
import { flowRows, flowSetting, signedPercent } from './fitness-text.ts';

const ABOVE_ZERO = { exclusiveMinimum: 0 };

/** The flow error that a printer would have, and the chance of a jam. */
export function FlowPart(props: {
  flow: FlowView | null;
  jam: JamView;
  /** Requests the chance of a jam for a print of another length. */
  askFor: (printMetres: number) => void;
}) {
  const { flow, jam } = props;
  const [printMetres, setPrintMetres] = useState<number | null>(jam.printMm / 1000);
  return (
    <Part
      id="flow"
      title="In the printer"
      lead="A printer feeds lengths of strand, so what comes out of the nozzle depends on the strand’s cross-section."
    >
      {flow && (
        <>
          <dl class="facts">
            <div>
              <dt>
                <Term of="flow">Flow setting</Term>
              </dt>
              <dd>{flowSetting(flow.flowMultiplier)}</dd>
            </div>
            <div>
              <dt>Mean flow error</dt>
              <dd>{signedPercent(flow.mean)}</dd>
            </div>
            <div>
              <dt>
                <Term of="sigma">Spread (1 σ)</Term>
              </dt>
              <dd>±&nbsp;{(flow.sd * 100).toFixed(1)}&#8239;%</dd>
            </div>
          </dl>
          <ScrollTable label="Worst flow errors">
            <table class="flow-table">
              <caption>Worst mean flow error over a length of strand, and where it starts, from the inner end</caption>
              <thead>
                <tr>
                  <th scope="col">Over</th>
                  <th scope="col">Too much</th>
                  <th scope="col">Too little</th>
                  <th scope="col">With the flow set</th>
                </tr>
              </thead>
              <tbody>
                {flowRows(flow.worst).map((row, i) => {
                  const set = flowRows(flow.worstAfterCorrection)[i];
                  return (
                    <tr key={row.window}>
                      <th scope="row">{row.window}</th>
                      <td>
                        {row.most} <Place mm={row.mostAtMm} />
                      </td>
                      <td>
                        {row.least} <Place mm={row.leastAtMm} />
                      </td>
                      <td>{set && `${set.most} / ${set.least}`}</td>
                    </tr>
                  );
                })}
              </tbody>
            </table>
          </ScrollTable>
        </>
      )}
      <div class="jam">
        <InlineForm
          button="Will it jam?"
          ready={isWithin(printMetres, ABOVE_ZERO)}
          submit={() => printMetres !== null && props.askFor(printMetres)}
        >
          <NumberField
            id="jam-metres"
            label="A print of this length"
            value={printMetres}
            digits={1}
            unit="m"
            bounds={ABOVE_ZERO}
            set={setPrintMetres}
          />
        </InlineForm>
        {jam.asWound && (
          <p>
            <b>From the spool as it is:</b> {unbroken(jam.asWound.sentence)}
          </p>
        )}
        {jam.afterCutting && (
          <p>
            <b>From the longest clean coil:</b> {unbroken(jam.afterCutting.sentence)}
          </p>
        )}
      </div>
    </Part>
  );
}

function Place({ mm }: { mm: number | null }) {
  return mm === null ? null : <span class="quiet">at {metres(mm, 1)}&nbsp;m</span>;
}
