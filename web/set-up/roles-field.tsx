import { ROLES } from '../../server/reading/names.ts';
import type { FieldProps } from './field-props.ts';
import { RowChoice, RowNumber, RowsField, RowText } from './rows-field.tsx';

interface Mapping {
  readonly name: string;
  readonly role: string;
  readonly factor: number | string;
  readonly offset: number | string;
}

const CHOICES = ROLES.map((role): [string, string] => [role, role]);

/** Names that the sketch prints, and what each stands for: value = raw × factor + offset. */
export function RolesField(props: FieldProps) {
  return (
    <RowsField<Mapping>
      {...props}
      fresh={{ name: '', role: 'd', factor: 1, offset: 0 }}
      add="Map a name …"
      called={(mapping) => `the mapping of ${mapping.name || 'this name'}`}
    >
      {(mapping, change) => (
        <>
          <RowText title="Name on the cable" value={mapping.name} set={(name) => change({ name })} />
          <RowChoice title="Role" value={mapping.role} choices={CHOICES} set={(role) => change({ role })} />
          <RowNumber title="Factor" value={mapping.factor} set={(factor) => change({ factor })} />
          <RowNumber title="Offset" value={mapping.offset} set={(offset) => change({ offset })} />
        </>
      )}
    </RowsField>
  );
}
