import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import { type Role, ZONES } from '../../server/reading/names.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { NumberField } from '../form/number-field.tsx';
import { isWithin } from '../form/typed-number.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { saveSettings } from '../service/settings.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { PinGaugeAid } from './pin-gauge-aid.tsx';
import { rawText, roleName } from './role-text.ts';
import { SetpointInputs } from './setpoints-field.tsx';
import type { Signals } from './use-signals.ts';

/** A question that a setting answers. */
function SettingQuestion(props: {
  title: string;
  button: string;
  /** The settings to save; null = not answered yet. */
  answer: Partial<LineSettings> | null;
  children: ComponentChildren;
}) {
  const { title, button, answer, children } = props;
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const save = async () => {
    if (answer === null) return;
    try {
      await saveSettings(answer);
      showNotice({ text: 'Saved.' });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <form
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      <h3>{title}</h3>
      {children}
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main" disabled={answer === null}>
          {button}
        </button>
      </p>
    </form>
  );
}

const SPEED = { exclusiveMinimum: 0, maximum: 500 };

export function SpeedQuestion({ signals }: { signals: Signals }) {
  const [mmPerS, setMmPerS] = useState<number | null>(null);
  const isValid = isWithin(mmPerS, SPEED);
  return (
    <SettingQuestion
      title="How fast does the strand move?"
      button="Save the speed"
      answer={isValid ? { setSpeedMmPerS: mmPerS } : null}
    >
      <p>No speed or length is sent. Enter the strand speed in mm/s, or how many seconds one metre takes.</p>
      <div class="answer-fields">
        <NumberField label="Strand speed, mm/s" bounds={SPEED} value={mmPerS} set={setMmPerS} />
        <NumberField
          label="Seconds for one metre"
          value={mmPerS === null || mmPerS === 0 ? null : Number((1000 / mmPerS).toPrecision(4))}
          set={(seconds) =>
            setMmPerS(seconds === null || seconds <= 0 ? null : Number((1000 / seconds).toPrecision(4)))
          }
        />
      </div>
      <OrPointAt as="v" signals={signals} />
    </SettingQuestion>
  );
}

export function SetpointsQuestion({ settings, signals }: { settings: LineSettings; signals: Signals }) {
  const zones = zonesWithout('s', signals);
  const [values, setValues] = useState<readonly (number | null)[]>(settings.setpointsC);
  const isComplete = zones.every((zone) => isWithin(values[zone - 1] ?? null, { minimum: 0, maximum: 500 }));
  return (
    <SettingQuestion
      title={zones.length === 1 ? 'What is the set-point of the zone?' : 'What are the set-points of the zones?'}
      button="Save the set-points"
      answer={isComplete ? { setpointsC: [...values] } : null}
    >
      <p>Without set-points Strandward can’t tell when a zone is at temperature. Keep them up to date here.</p>
      <div class="answer-fields">
        <SetpointInputs zones={zones} zoneNames={settings.zoneNames} value={values} set={setValues} />
      </div>
      {zones[0] !== undefined && <OrPointAt as={`s${zones[0]}`} signals={signals} />}
    </SettingQuestion>
  );
}

export function PathQuestion({ settings }: { settings: LineSettings }) {
  const [pathMm, setPathMm] = useState<number | null>(settings.gaugeToWinderMm);
  const bounds = { minimum: 0, maximum: 20_000 };
  return (
    <SettingQuestion
      title="How long is the path from the gauge to the winder?"
      button="Save the path"
      answer={isWithin(pathMm, bounds) ? { gaugeToWinderMm: pathMm, pathMeasured: true } : null}
    >
      <p>Measure along the strand, over all rollers. Every position on the spool depends on it.</p>
      <div class="answer-fields">
        <NumberField label="Path, mm" bounds={bounds} value={pathMm} set={setPathMm} />
      </div>
    </SettingQuestion>
  );
}

export function PowerQuestion({ signals }: { signals: Signals }) {
  const [zone] = zonesWithout('p', signals);
  return (
    <>
      <h3>Heater power isn’t sent</h3>
      <p>
        Without it heater faults are found minutes later, and a weak heater, a sensor that slips out slowly, or a
        reading that freezes at its set-point may not be found at all.
      </p>
      {zone !== undefined && <OrPointAt as={`p${zone}`} signals={signals} />}
    </>
  );
}

export function GaugeQuestion({ signals }: { signals: Signals }) {
  const gauges = signals.rows.filter(({ role, isSent }) => isSent && /^d[xy]?$/.test(role ?? ''));
  return (
    <>
      <h3>Does the gauge read true?</h3>
      {gauges.map((row) => (
        <div key={row.name}>
          {gauges.length > 1 && <h4 class="raw">{row.name}</h4>}
          <PinGaugeAid row={row} calibrate={(...calibration) => signals.calibrate(row, ...calibration)} />
        </div>
      ))}
    </>
  );
}

/** Fields without a meaning, one of which has the role that is missing. */
export function WhichField({ title, as: role, signals }: { title: string; as: Role; signals: Signals }) {
  return (
    <>
      <h3>{title}</h3>
      {freeRows(signals).length === 0 ? (
        <p>No other field could be it. Print it in your sketch, and it appears here at once.</p>
      ) : (
        <>
          <FreeFields as={role} signals={signals} />
          <p class="hint">None of them? Print it in your sketch, and it appears here at once.</p>
        </>
      )}
    </>
  );
}

/** What is asked for may be sent after all, under a name that says nothing to us. */
function OrPointAt({ as: role, signals }: { as: Role; signals: Signals }) {
  if (freeRows(signals).length === 0) return null;
  return (
    <details class="or-point-at">
      <summary>Or is one of these the {roleName(role)}?</summary>
      <FreeFields as={role} signals={signals} />
    </details>
  );
}

/** The zones that send a temperature, but not this. */
function zonesWithout(letter: 's' | 'p', { rows }: Signals) {
  const isSent = (role: Role) => rows.some((row) => row.role === role && row.isSent);
  return ZONES.filter((zone) => isSent(`t${zone}`) && !isSent(`${letter}${zone}`));
}

const freeRows = ({ rows }: Signals) => rows.filter((row) => row.role === null && row.isSent);

/** Pointing at a field gives it the role. */
function FreeFields({ as: role, signals }: { as: Role; signals: Signals }) {
  return (
    <ul class="which">
      {freeRows(signals).map((row) => (
        <li key={row.name}>
          <button
            type="button"
            onClick={() => {
              signals.chooseRole(row, role);
              document.getElementById('signals')?.scrollIntoView({ block: 'start' });
            }}
          >
            <span class="raw">{row.name}</span> {rawText(row.last)} {row.printedUnit}
          </button>
        </li>
      ))}
    </ul>
  );
}
