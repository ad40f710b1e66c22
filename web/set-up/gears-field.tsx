import type { LineSettings } from '../../server/settings/line-settings.ts';
import { ChoiceField } from '../form/field.tsx';
import { NumberField } from '../form/number-field.tsx';
import { TextField } from '../form/text-field.tsx';
import { RowsField } from './rows-field.tsx';
import type { SettingProps } from './settings-store.ts';

type Gear = Omit<LineSettings['gears'][number], 'cyclesPerTurn'> & { readonly cyclesPerTurn: number | null };

const SHAFTS = [
  ['screw', 'the screw'],
  ['roller', 'the puller roller'],
] as const;

/** Gears and motors that may show in the diameter, each on its shaft. */
export function GearsField(props: SettingProps) {
  return (
    <RowsField<Gear>
      {...props}
      fresh={{ name: '', shaft: 'screw', cyclesPerTurn: null }}
      add="Add a gear or motor …"
      called={(gear) => gear.name || 'this gear'}
    >
      {(gear, change) => (
        <>
          <TextField name="name" label="Name" maxLength={40} value={gear.name} set={(name) => change({ name })} />
          <ChoiceField
            name="shaft"
            label="On the shaft of"
            value={gear.shaft}
            choices={SHAFTS}
            set={(shaft) => change({ shaft })}
          />
          <NumberField
            name="cyclesPerTurn"
            label="Cycles a turn"
            value={gear.cyclesPerTurn}
            set={(cyclesPerTurn) => change({ cyclesPerTurn })}
          />
        </>
      )}
    </RowsField>
  );
}
