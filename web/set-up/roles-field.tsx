import { parseNumber } from '../words/numbers.ts';
import type { FieldProps } from './field-props.ts';
import { PinGaugeAid } from './pin-gauge-aid.tsx';
import { type Mapping, ROLE_CHOICES } from './role-words.ts';
import { RowChoice, RowNumber, RowsField, RowText } from './rows-field.tsx';
import { settings } from './settings-store.ts';

/** Names that the sketch prints, and what each stands for: value = raw × factor + offset. */
export function RolesField(props: FieldProps) {
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
            factor={parseNumber(String(mapping.factor)) ?? 1}
            columnNames={settings.value?.columnNames ?? []}
            set={(factor, offset) => change({ factor, offset })}
          />
        )
      }
    >
      {(mapping, change) => (
        <>
          <RowText name="name" title="Name on the cable" value={mapping.name} set={(name) => change({ name })} />
          <RowChoice
            name="role"
            title="Stands for"
            value={mapping.role}
            choices={ROLE_CHOICES}
            set={(role) => change({ role })}
          />
          <RowNumber name="factor" title="Factor" value={mapping.factor} set={(factor) => change({ factor })} />
          <RowNumber name="offset" title="Offset" value={mapping.offset} set={(offset) => change({ offset })} />
        </>
      )}
    </RowsField>
  );
}
