import { ChoiceField } from '../form/field.tsx';
import { NumberField } from '../form/number-field.tsx';
import { TextField } from '../form/text-field.tsx';
import { settings } from '../service/settings.ts';
import { PinGaugeAid } from './pin-gauge-aid.tsx';
import { type Mapping, ROLE_CHOICES } from './role-text.ts';
import { RowsField } from './rows-field.tsx';
import type { SettingProps } from './settings-store.ts';

/** The names in the reading line and their roles: value = raw × factor + offset. */
export function RolesField(props: SettingProps) {
  return (
    <RowsField<Mapping>
      {...props}
      fresh={{ name: '', role: 'd', factor: 1, offset: 0 }}
      add="Map a name …"
      called={(mapping) => `the mapping of ${mapping.name || 'this name'}`}
      below={(mapping, change) =>
        /^d[xy]?$/.test(mapping.role) && (
          <PinGaugeAid
            name={mapping.name}
            factor={mapping.factor ?? 1}
            columnNames={settings.value?.columnNames ?? []}
            set={(factor, offset) => change({ factor, offset })}
          />
        )
      }
    >
      {(mapping, change) => (
        <>
          <TextField
            name="name"
            label="Name on the cable"
            maxLength={40}
            value={mapping.name}
            set={(name) => change({ name })}
          />
          <ChoiceField
            name="role"
            label="Stands for"
            value={mapping.role}
            choices={ROLE_CHOICES}
            set={(role) => change({ role })}
          />
          <NumberField name="factor" label="Factor" value={mapping.factor} set={(factor) => change({ factor })} />
          <NumberField name="offset" label="Offset" value={mapping.offset} set={(offset) => change({ offset })} />
        </>
      )}
    </RowsField>
  );
}
