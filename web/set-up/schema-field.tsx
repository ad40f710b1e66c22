import { ChoiceField, Field } from '../form/field.tsx';
import { NumberField } from '../form/number-field.tsx';
import { TextField } from '../form/text-field.tsx';
import type { TermName } from '../terms/glossary.ts';
import { GearsField } from './gears-field.tsx';
import { SetpointsField } from './setpoints-field.tsx';
import type { FieldSchema, SettingProps } from './settings-store.ts';

const TERMS: Readonly<Partial<Record<string, TermName>>> = {
  toleranceMm: 'tolerance',
  hotendLimitMm: 'hotendLimit',
  smallestFeedableMm: 'smallestFeedable',
  gaugeUncertaintyMm: 'gaugeUncertainty',
  gaugeToWinderMm: 'gaugeToWinder',
  shortestCoilMm: 'coil',
  soakMin: 'soak',
  settleLengthMm: 'settled',
};

const CHOICE_TEXT: Record<string, string> = {
  auto: 'automatic',
  named: 'name=value',
  json: 'JSON',
  columns: 'columns',
  text: 'free text',
  required: 'required',
};

/** One setting, as its schema describes it. */
export function SchemaField(props: SettingProps & { readonly zoneNames: readonly string[] }) {
  const { name, schema, value, fault, set } = props;
  if (name === 'gears') return <GearsField {...props} />;
  if (name === 'setpointsC') return <SetpointsField {...props} />;
  const around = { id: `set-${name}`, label: schema.title ?? name, term: TERMS[name], hint: hintOf(schema), fault };
  if (schema.enum) {
    const choices = schema.enum.map((one) => [one, CHOICE_TEXT[one] ?? one] as const);
    return <ChoiceField {...around} value={String(value)} choices={choices} set={set} />;
  }
  if (schema.type === 'array') {
    return (
      <Field {...around}>
        {(ties) => (
          <input
            {...ties}
            type="text"
            value={(value as readonly string[]).join(', ')}
            onChange={(event) => set(listed(event.currentTarget.value))}
          />
        )}
      </Field>
    );
  }
  if (schema.type === 'number' || schema.type === 'integer') {
    return <NumberField {...around} bounds={schema} value={value as number | null} set={set} />;
  }
  return <TextField {...around} maxLength={schema.maxLength} value={String(value)} set={set} />;
}

/** The parts between the commas. */
function listed(text: string): string[] {
  return text
    .split(',')
    .map((one) => one.trim())
    .filter((one) => one !== '');
}

/** Shown while the field has the focus; its range only when the value is outside. */
export function hintOf(schema: FieldSchema): string {
  const parts: string[] = [];
  if (schema.description) parts.push(sentences(withoutSourceNote(schema.description)));
  if (schema.type === 'array') parts.push('Separated by commas.');
  if (schema.default !== undefined && schema.default !== '' && !Array.isArray(schema.default)) {
    parts.push(`Default: ${CHOICE_TEXT[String(schema.default)] ?? String(schema.default)}.`);
  }
  return parts.join(' ');
}

/** Whether a number has a source matters to those who read the schema, not to those who set up a line. */
function withoutSourceNote(description: string): string {
  return description.replace(/common practice, no source(?:: )?/gi, '').trim();
}

/** Turns a description into sentences with a capital letter and a full stop. */
function sentences(text: string): string {
  if (text === '') return '';
  const large = text.replace(/(^|\. )([a-z])/g, (_, before: string, letter: string) => before + letter.toUpperCase());
  return /[.!?]$/.test(large) ? large : `${large}.`;
}
