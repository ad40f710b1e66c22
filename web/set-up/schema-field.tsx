import { boundsWords } from './check-field.ts';
import type { FieldProps } from './field-props.ts';
import { GearsField } from './gears-field.tsx';
import { RolesField } from './roles-field.tsx';
import type { FieldSchema } from './settings-store.ts';

const CHOICE_WORDS: Record<string, string> = {
  auto: 'by itself',
  named: 'name=value',
  json: 'JSON',
  columns: 'bare columns',
  required: 'required',
};

/** One setting, as its schema describes it. */
export function SchemaField(props: FieldProps) {
  const { name, schema, value, fault, set } = props;
  const id = `set-${name}`;
  const title = schema.title ?? name;
  const hint = hintOf(schema);
  const described = `${id}-hint${fault ? ` ${id}-fault` : ''}`;
  if (name === 'gears') return <GearsField {...props} />;
  if (name === 'roles') return <RolesField {...props} />;
  return (
    <div class={`field${fault ? ' wrong' : ''}`} data-setting={name}>
      <label for={id}>{title}</label>
      {schema.enum ? (
        <select
          id={id}
          value={String(value)}
          aria-describedby={described}
          onChange={(event) => set(event.currentTarget.value)}
        >
          {schema.enum.map((one) => (
            <option key={one} value={one}>
              {CHOICE_WORDS[one] ?? one}
            </option>
          ))}
        </select>
      ) : schema.type === 'array' ? (
        <input
          id={id}
          type="text"
          value={Array.isArray(value) ? value.join(', ') : String(value)}
          aria-describedby={described}
          aria-invalid={fault !== null}
          onChange={(event) =>
            set(
              event.currentTarget.value
                .split(',')
                .map((one) => one.trim())
                .filter((one) => one !== ''),
            )
          }
        />
      ) : (
        <input
          id={id}
          type="text"
          inputMode={schema.type === 'number' ? 'decimal' : 'text'}
          class={schema.type === 'number' ? 'number' : ''}
          maxLength={schema.maxLength}
          value={String(value)}
          aria-describedby={described}
          aria-invalid={fault !== null}
          onInput={(event) => set(event.currentTarget.value)}
        />
      )}
      <span>
        <span class="hint" id={`${id}-hint`}>
          {hint}
        </span>
        {fault && (
          <span class="fault" id={`${id}-fault`}>
            {fault}
          </span>
        )}
      </span>
    </div>
  );
}

function hintOf(schema: FieldSchema): string {
  const parts: string[] = [];
  if (schema.description) parts.push(sentences(schema.description));
  const bounds = boundsWords(schema);
  if (bounds) parts.push(`${bounds[0]!.toUpperCase()}${bounds.slice(1)}.`);
  if (schema.type === 'array') parts.push('Parted by commas.');
  if (schema.default !== undefined && schema.default !== '' && !Array.isArray(schema.default)) {
    parts.push(`Usual: ${CHOICE_WORDS[String(schema.default)] ?? String(schema.default)}.`);
  }
  return parts.join(' ');
}

/** A description as whole sentences: each begins large and ends in a stop. */
function sentences(text: string): string {
  const large = text.replace(/(^|\. )([a-z])/g, (_, before: string, letter: string) => before + letter.toUpperCase());
  return /[.!?]$/.test(large) ? large : `${large}.`;
}
