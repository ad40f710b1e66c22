import { useState } from 'preact/hooks';
import type { CoilView, CutPlanView } from '../../server/api/contract/cut-plan.ts';
import { gramsWithError, metres, metresWithError } from '../format/numbers.ts';
import { ScrollTable } from '../shell/scroll-table.tsx';
import type { RewinderModel } from './rewinder-model.ts';

const CONDITION_TEXT: Record<CoilView['condition'], string> = {
  clean: '',
  inDoubt: 'check its ends',
  spoilt: 'contains a bad stretch',
};

/** The coils that cutting makes; their names can be changed. */
export function CoilList({ model, plan }: { model: RewinderModel; plan: CutPlanView }) {
  return (
    <ScrollTable label="Coils">
      <table class="coils">
        <caption class="visually-hidden">Coils, in the order in which they come off</caption>
        <thead>
          <tr>
            <th scope="col">Coil</th>
            <th scope="col" class="num">
              Length
            </th>
            <th scope="col" class="num">
              Mass
            </th>
            <th scope="col">Note</th>
          </tr>
        </thead>
        <tbody>
          {plan.coils.map((coil) => (
            <tr key={coil.ordinal} data-testid="coil">
              <th scope="row">
                <CoilName key={coil.name} model={model} coil={coil} />
              </th>
              <td class="num">{metresWithError(coil.lengthMm, coil.lengthUncertaintyMm)}</td>
              <td class="num">{coil.grams === null ? '–' : gramsWithError(coil.grams, coil.gramsUncertainty ?? 0)}</td>
              <td class="quiet">
                {[
                  coil.state === 'cut' ? 'cut' : '',
                  CONDITION_TEXT[coil.condition],
                  coil.repair !== null && coil.repair.leftMm > 0 ? `${metres(coil.repair.leftMm)} m can be saved` : '',
                  coil.doubtfulMm > 0 ? `${metres(coil.doubtfulMm)} m doubtful` : '',
                  coil.unknownMm > 0 ? `${metres(coil.unknownMm)} m not measured` : '',
                ]
                  .filter((text) => text !== '')
                  .join(', ')}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </ScrollTable>
  );
}

/** An editable name. An empty one restores the usual name. */
function CoilName({ model, coil }: { model: RewinderModel; coil: CoilView }) {
  const [text, setText] = useState(coil.name);
  return (
    <input
      class="coil-name"
      type="text"
      aria-label={`Name of coil ${coil.ordinal}`}
      maxLength={60}
      value={text}
      onInput={(event) => setText(event.currentTarget.value)}
      onBlur={() => {
        if (text.trim() !== coil.name) void model.rename(coil, text.trim());
      }}
      onKeyDown={(event) => {
        if (event.key === 'Enter') event.currentTarget.blur();
        if (event.key === 'Escape') setText(coil.name);
      }}
    />
  );
}
