import { isRole, type Role, unitOf } from '../../server/reading/names.ts';
import { WHEEL_TURNS } from '../../server/reading/units.ts';
import { NumberField } from '../form/number-field.tsx';
import { PinGaugeAid, type SaveCalibration } from './pin-gauge-aid.tsx';
import { rangeText, rawText, roleGroups, roleName, unitChoices, valueText } from './role-text.ts';
import { inUnit, isImpossible, type Meaning, roleValue, type SignalRow } from './signal-rows.ts';

interface Props {
  readonly row: SignalRow;
  readonly isSaved: boolean;
  readonly nominalMm: number;
  /** All other temperatures have this scale, which is not that of this one; null = it fits. */
  readonly scaleOfOthers: string | null;
  /** Name of the field that has each role. */
  readonly taken: ReadonlyMap<Role, string>;
  readonly zoneCount: number;
  readonly chooseRole: (role: Role | null) => void;
  readonly change: (part: Partial<Meaning>) => void;
  readonly calibrate: SaveCalibration;
}

/** A field of the line: what it sends, and what it means, which can be changed in place. */
export function SignalRowView(props: Props) {
  const { row, isSaved, nominalMm, scaleOfOthers, taken, zoneCount, chooseRole, change, calibrate } = props;
  const { name, role, unit } = row;
  const units = role === null ? [] : unitChoices(role);
  const value = roleValue(row);
  const range = rangeText(row.lowest, row.highest);
  return (
    <li class={`signal ${row.from}`} data-signal={name}>
      <span class="signal-name raw">{breakable(name)}</span>
      <span class="signal-raw">
        <span data-testid="raw">{row.isSent ? `${rawText(row.last)} ${row.printedUnit}`.trim() : 'not sent now'}</span>
        {range && <span class="fine">{range}</span>}
      </span>
      <span class="signal-meaning">
        <span>{leadText(row, isSaved)}</span>
        <select
          aria-label={`Meaning of ${name}`}
          value={role ?? ''}
          onChange={({ currentTarget: { value } }) => chooseRole(isRole(value) ? value : null)}
        >
          {row.from !== 'name' && <option value="">not used</option>}
          {roleGroups(zoneCount).map(([title, roles]) => (
            <optgroup key={title} label={title}>
              {roles.map((one) => {
                const other = taken.get(one);
                const isTaken = other !== undefined && other !== name;
                return (
                  <option key={one} value={one} disabled={isTaken}>
                    {isTaken ? `${roleName(one)} – ${other}` : roleName(one)}
                  </option>
                );
              })}
            </optgroup>
          ))}
        </select>
        {units.length > 0 && !row.needsPins && (
          <span class="signal-in">
            in{' '}
            <select
              aria-label={`Unit of ${name}`}
              value={unit}
              onChange={({ currentTarget: { value } }) => change(inUnit(row, value))}
            >
              {units.map(({ code, label }) => (
                <option key={code} value={code}>
                  {label}
                </option>
              ))}
            </select>
          </span>
        )}
        {role !== null && units.length === 0 && unitOf(role) !== '' && <span>in {unitOf(role)}</span>}
        {isImpossible(row, nominalMm) ? (
          <span class="please-check">impossible: check the unit</span>
        ) : scaleOfOthers !== null ? (
          <span class="please-check">the others are in {scaleOfOthers}: check the unit</span>
        ) : (
          !row.isSure && !row.needsPins && <span class="please-check">please check</span>
        )}
      </span>
      <span class="signal-value" data-testid="value">
        {role !== null && value !== null && !row.needsPins && valueText(role, value)}
      </span>
      {unit === WHEEL_TURNS && (
        <div class="signal-more">
          <NumberField
            label="Diameter of the puller wheel, mm"
            bounds={{ exclusiveMinimum: 0 }}
            value={row.factor}
            set={(factor) => change({ factor })}
          />
        </div>
      )}
      {row.needsPins && (
        <div class="signal-more">
          <p>
            <span class="please-check">raw count</span> – measure two pins first.
          </p>
          <PinGaugeAid row={row} calibrate={calibrate} />
        </div>
      )}
    </li>
  );
}

/** A long name breaks after a punctuation mark in it, not inside a word. */
function breakable(name: string) {
  return name.split(/(?<=[._/-])/).map((part, i) => [i > 0 && <wbr key={i} />, part]);
}

function leadText(row: SignalRow, isSaved: boolean): string {
  if (row.from === 'proposal') return row.isSure ? 'looks like the' : 'may be the';
  if (row.role === null) return isSaved ? 'is' : 'will be';
  return isSaved ? 'is the' : 'will be the';
}
