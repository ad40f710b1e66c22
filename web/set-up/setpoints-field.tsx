import { NumberField } from '../form/number-field.tsx';
import type { SettingProps } from './settings-store.ts';
import { SETPOINT_BOUNDS } from './unsent-values.ts';

type Setpoints = readonly (number | null)[];

/** Set-points of some zones, in the list of all: °C by zone from 1, null = not given. */
export function SetpointInputs(props: {
  zones: readonly number[];
  zoneNames: readonly string[];
  value: Setpoints;
  set: (value: Setpoints) => void;
}) {
  const { zones, zoneNames, value, set } = props;
  return (
    <>
      {zones.map((zone) => (
        <NumberField
          key={zone}
          label={`${zoneNames[zone - 1] || `Zone ${zone}`}, °C`}
          bounds={SETPOINT_BOUNDS}
          value={value[zone - 1] ?? null}
          set={(c) =>
            set(
              Array.from({ length: Math.max(value.length, zone) }, (_, i) => (i === zone - 1 ? c : (value[i] ?? null))),
            )
          }
        />
      ))}
    </>
  );
}

/** The setting `setpointsC`. */
export function SetpointsField({
  name,
  schema,
  value,
  fault,
  set,
  zoneNames,
}: SettingProps & { zoneNames: readonly string[] }) {
  const known = value as Setpoints;
  const zones = Array.from({ length: Math.max(1, zoneNames.length, known.length) }, (_, i) => i + 1);
  return (
    <fieldset class="roles" data-setting={name}>
      <legend>{schema.title}</legend>
      <div class="answer-fields">
        <SetpointInputs zones={zones} zoneNames={zoneNames} value={known} set={set} />
      </div>
      {fault && <span class="fault">{fault}</span>}
    </fieldset>
  );
}
