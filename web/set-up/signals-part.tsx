import { useState } from 'preact/hooks';
import type { IncomingView } from '../../server/api/contract/incoming.ts';
import { WHEEL_TURNS } from '../../server/reading/units.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { NumberField } from '../form/number-field.tsx';
import { counted } from '../format/numbers.ts';
import { live } from '../service/live-store.ts';
import { Part } from '../shell/part.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { formerShape, isSettling, isSteady } from './incoming-store.ts';
import { SetpointsQuestion, SpeedQuestion } from './missing-questions.tsx';
import { roleName } from './role-text.ts';
import { SignalRowView } from './signal-row.tsx';
import { type SignalRow, scaleOfOthers, signalFault, takenBy, unsaved } from './signal-rows.ts';
import { NothingYet, UnreadLines } from './unread-lines.tsx';
import { settingsWith, unsentOf } from './unsent-values.ts';
import type { Signals } from './use-signals.ts';

interface Props {
  readonly seen: IncomingView;
  readonly settings: LineSettings;
  readonly signals: Signals;
}

/** What the line sends and what each field means: proposed by the service, confirmed here. */
export function SignalsPart({ seen, settings, signals }: Props) {
  const { roles, nominalMm } = settings;
  const { rows, problem } = signals;
  const [isListed, setIsListed] = useState(false);
  const link = live.value?.link;
  const isLost = link?.phase === 'waiting';
  const hasStopped = isLost || (seen.readingsPerS === 0 && !isSettling.value);
  const fault = signalFault(rows, nominalMm);
  const taken = takenBy(rows);
  const zoneCount = zonesToOffer(rows);
  const counts = unsaved(rows, roles);
  const typed = settingsWith(signals.values, settings);
  // Not before the first proposal is complete, because it may bring what would be asked for.
  const [asks, setAsks] = useState(false);
  if (isSteady.value && seen.fields.length > 0 && !asks) setAsks(true);
  const asked = asks && seen.fields.length > 0 ? unsentOf(rows, settings) : [];
  const rowOf = (row: SignalRow) => (
    <SignalRowView
      key={row.name}
      row={row}
      isSaved={unsaved([row], roles).total === 0}
      nominalMm={nominalMm}
      scaleOfOthers={scaleOfOthers(row, rows)}
      taken={taken}
      zoneCount={zoneCount}
      chooseRole={(role) => signals.chooseRole(row, role)}
      change={(part) => signals.change(row, part)}
      calibrate={(...calibration) => signals.calibrate(row, ...calibration)}
    />
  );
  // They need no look, and there may be many. A row that is changed keeps its place.
  const byName = new Set(seen.fields.flatMap(({ name, role, mapping }) => (role && mapping === null ? name : [])));
  const known = rows.filter(({ name }) => byName.has(name));
  const others = rows.filter(({ name }) => !byName.has(name));
  return (
    <Part id="signals" title="What your line sends" lead={<FormatLine seen={seen} isLost={isLost} />}>
      {seen.lastLine !== '' && (
        <p class="raw last-line" data-testid="last-line">
          {seen.lastLine}
        </p>
      )}
      {link && hasStopped && <NothingYet seen={seen} link={link} />}
      {others.length > 0 && (
        <ul class={hasStopped ? 'signals old' : 'signals'} aria-label="Fields of the line">
          {others.map(rowOf)}
        </ul>
      )}
      {known.length > 0 && (
        <details class="known-signals" onToggle={(event) => setIsListed(event.currentTarget.open)}>
          <summary>{counted(known.length, 'signal')} understood by name</summary>
          {isListed && (
            <ul class="signals" aria-label="Signals understood by name">
              {known.map(rowOf)}
            </ul>
          )}
        </details>
      )}
      {(counts.total > 0 || asked.length > 0 || problem) && (
        <form
          class="part-body"
          onSubmit={(event) => {
            event.preventDefault();
            void signals.save();
          }}
        >
          {asked.map((one) => (
            <section class="question" key={one} data-testid={`missing-${one}`}>
              {one === 'speed' ? <SpeedQuestion signals={signals} /> : <SetpointsQuestion {...{ settings, signals }} />}
            </section>
          ))}
          {fault && (
            <p class="fault" role="alert">
              {fault}
            </p>
          )}
          {problem && <ProblemNote problem={problem} />}
          {problem?.code === 'wrong-state' && <p>What you chose here is kept. Check it, then save again.</p>}
          {(counts.total > 0 || asked.length > 0) && (
            <SaveSignals
              signals={signals}
              counts={counts}
              values={typed.count}
              ready={fault === null && typed.areValid}
            />
          )}
        </form>
      )}
      <UnreadLines dropped={seen.dropped} readingsPerS={seen.readingsPerS} />
      <CalibrationFields signals={signals} />
    </Part>
  );
}

function SaveSignals(props: {
  signals: Signals;
  counts: ReturnType<typeof unsaved>;
  /** How many are typed for what is not sent. */
  values: number;
  ready: boolean;
}) {
  const { signals, counts, values, ready } = props;
  const isIdle = counts.total + values === 0;
  return (
    <p class="actions">
      <button
        type="submit"
        class="main"
        disabled={!ready || isIdle || signals.isSaving || (counts.total > 0 && !isSteady.value)}
      >
        {saveText(counts, values)}
      </button>
      {signals.hasChoices && (
        <button type="button" onClick={() => signals.undo()}>
          Undo my changes
        </button>
      )}
    </p>
  );
}

function saveText({ signals, changes }: ReturnType<typeof unsaved>, values: number): string {
  if (signals + changes === 0) return values === 0 ? 'Save' : `Save ${counted(values, 'value')}`;
  if (signals === 0) return `Save ${counted(changes + values, 'change')}`;
  const these = signals === 1 ? 'this signal' : `these ${signals} signals`;
  return `Yes, use ${these}${values === 0 ? '' : ` and ${counted(values, 'value')}`}`;
}

const SHAPE_TEXT: Record<NonNullable<IncomingView['shape']>, string> = {
  named: 'name=value',
  json: 'JSON',
  columns: 'columns',
  text: 'free text',
};

/** The recognised format; said again when it changes. */
function FormatLine({ seen: { shape, readingsPerS }, isLost }: { seen: IncomingView; isLost: boolean }) {
  const former = formerShape.value;
  return (
    <span role="status">
      Format: {shape === null ? 'not recognised yet' : SHAPE_TEXT[shape]}
      {former !== null && former !== shape && ` (was ${SHAPE_TEXT[former]})`}
      {readingsPerS > 0 && !isLost && `, ${readingsPerS.toFixed(readingsPerS < 10 ? 1 : 0)} readings a second`}.
    </span>
  );
}

/** Factor and offset of each signal, for those who know them. */
function CalibrationFields({ signals }: { signals: Signals }) {
  // The factor of turns is the wheel's diameter, which has its own field.
  const rows = signals.rows.filter(({ role, unit, needsPins }) => role !== null && unit !== WHEEL_TURNS && !needsPins);
  if (rows.length === 0) return null;
  return (
    <details class="calibration">
      <summary>Calibration</summary>
      <p class="hint">Value = raw × factor + offset, in the unit chosen above.</p>
      {rows.map((row) => (
        <fieldset class="calibration-row" key={row.name}>
          <legend>
            <span class="raw">{row.name}</span> {row.role && roleName(row.role)}
          </legend>
          <NumberField label="Factor" value={row.factor} set={(factor) => signals.change(row, { factor })} />
          <NumberField label="Offset" value={row.offset} set={(offset) => signals.change(row, { offset })} />
        </fieldset>
      ))}
    </details>
  );
}

/** As many zones as the line could have, so that the list stays short. */
function zonesToOffer(rows: readonly SignalRow[]): number {
  const used = rows.map(({ role }) => Number(/^[tspf](\d)$/.exec(role ?? '')?.[1] ?? 0));
  return Math.min(8, Math.max(3, rows.length, ...used));
}
