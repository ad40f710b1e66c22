import type { LineSettings } from '../../server/settings/line-settings.ts';
import type { FieldProps } from './field-props.ts';
import { RowChoice, RowNumber, RowsField, RowText } from './rows-field.tsx';

type Gear = Omit<LineSettings['gears'][number], 'cyclesPerTurn'> & { readonly cyclesPerTurn: number | string };

const SHAFTS = [
  ['screw', 'the screw'],
  ['roller', 'the puller roller'],
] as const;

/** Gears and motors that may show in the diameter, each on the shaft that it turns with. */
export function GearsField(props: FieldProps) {
  return (
    <RowsField<Gear>
      {...props}
      fresh={{ name: '', shaft: 'screw', cyclesPerTurn: '' }}
      add="Add a gear or motor …"
      called={(gear) => gear.name || 'this gear'}
    >
      {(gear, change) => (
        <>
          <RowText name="name" title="Name" value={gear.name} set={(name) => change({ name })} />
          <RowChoice
            name="shaft"
            title="On the shaft of"
            value={gear.shaft}
            choices={SHAFTS}
            set={(shaft) => change({ shaft })}
          />
          <RowNumber
            name="cyclesPerTurn"
            title="Cycles a turn"
            value={gear.cyclesPerTurn}
            set={(cyclesPerTurn) => change({ cyclesPerTurn })}
          />
        </>
      )}
    </RowsField>
  );
}
