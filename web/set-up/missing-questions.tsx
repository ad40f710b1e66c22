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
import { SPEED_BOUNDS, setpointsAtHeat } from './unsent-values.ts';
import type { Signals } from './use-signals.ts';

/** What the line does not send is typed beside its signals, and saved with them. */
export function SpeedQuestion({ signals }: { signals: Signals }) {
  const mmPerS = signals.values.setSpeedMmPerS;
  const set = (setSpeedMmPerS: number | null) => signals.setValues({ setSpeedMmPerS });
  return (
    <>
      <h3>How fast does the strand move?</h3>
      <p>No speed or length is sent. Enter the strand speed in mm/s, or how many seconds one metre takes.</p>
      <div class="answer-fields">
        <NumberField label="Strand speed, mm/s" bounds={SPEED_BOUNDS} value={mmPerS} set={set} />
        <NumberField
          label="Seconds for one metre"
          value={mmPerS === null || mmPerS === 0 ? null : Number((1000 / mmPerS).toPrecision(4))}
          set={(seconds) => set(seconds === null || seconds <= 0 ? null : Number((1000 / seconds).toPrecision(4)))}
        />
      </div>
      <OrPointAt as="v" signals={signals} />
    </>
  );
}

export function SetpointsQuestion({ settings, signals }: { settings: LineSettings; signals: Signals }) {
  const zones = zonesWithout('s', signals);
  const value = signals.values.setpointsC ?? settings.setpointsC;
  const atHeat = setpointsAtHeat(signals.rows, zones);
  const fill = () => {
    const next = [...value];
    zones.forEach((zone, i) => {
      next[zone - 1] = atHeat?.[i] ?? null;
    });
    signals.setValues({ setpointsC: Array.from(next, (c) => c ?? null) });
  };
  return (
    <>
      <h3>{zones.length === 1 ? 'What is the set-point of the zone?' : 'What are the set-points of the zones?'}</h3>
      <p>Without set-points Strandward can’t tell when a zone is at temperature. Keep them up to date here.</p>
      <div class="answer-fields">
        <SetpointInputs
          zones={zones}
          zoneNames={settings.zoneNames}
          value={value}
          set={(setpointsC) => signals.setValues({ setpointsC })}
        />
      </div>
      {atHeat && (
        <p class="actions">
          <button type="button" onClick={fill}>
            At temperature now: use {atHeat.join(', ')} °C
          </button>
        </p>
      )}
      {zones[0] !== undefined && <OrPointAt as={`s${zones[0]}`} signals={signals} />}
    </>
  );
}

const PATH_BOUNDS = { minimum: 0, maximum: 20_000 };

export function PathQuestion({ settings }: { settings: LineSettings }) {
  const [pathMm, setPathMm] = useState<number | null>(settings.gaugeToWinderMm);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const save = async () => {
    try {
      await saveSettings({ gaugeToWinderMm: pathMm, pathMeasured: true });
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
      <h3>How long is the path from the gauge to the winder?</h3>
      <p>Measure along the strand, over all rollers. Every position on the spool depends on it.</p>
      <div class="answer-fields">
        <NumberField label="Path, mm" bounds={PATH_BOUNDS} value={pathMm} set={setPathMm} />
      </div>
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main" disabled={!isWithin(pathMm, PATH_BOUNDS)}>
          Save the path
        </button>
      </p>
    </form>
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
