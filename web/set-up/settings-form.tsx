import { useRef, useState } from 'preact/hooks';
import { namesIn, pointerTo } from '../../server/problem/pointer.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { fieldOf } from '../form/field-of.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { saveSettings } from '../service/settings.ts';
import { closeNotice, showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { fieldValue } from './field-value.ts';
import { GROUPS, type SettingsGroup, ungrouped } from './groups.ts';
import { RecordPanel } from './record-panel.tsx';
import { SchemaField } from './schema-field.tsx';
import type { FieldSchema } from './settings-store.ts';

interface Props {
  readonly properties: Readonly<Record<string, FieldSchema>>;
  readonly saved: LineSettings;
}

/** Every setting, from the schema that the service checks them with: the filament at once, the others folded. */
export function SettingsForm({ properties, saved }: Props) {
  /** Only the fields changed here, so that saving never overwrites what others have changed. */
  const [changes, setChanges] = useState<Readonly<Record<string, unknown>>>({});
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [faulty, setFaulty] = useState<Readonly<Record<string, string>>>({});
  const more = useRef<HTMLDetailsElement>(null);
  const [opened, setOpened] = useState(false);
  const rest = ungrouped(Object.keys(properties));
  const [first, ...others] = GROUPS;
  const folded: readonly SettingsGroup[] = [
    ...others,
    ...(rest.length > 0 ? [{ title: 'Other', text: '', names: rest as (keyof LineSettings)[] }] : []),
  ];
  const valueIn = (name: string) => (name in changes ? changes[name] : saved[name as keyof LineSettings]);
  const set = (name: string, value: unknown) => {
    setChanges(({ [name]: _, ...old }) =>
      JSON.stringify(value) === JSON.stringify(saved[name as keyof LineSettings]) ? old : { ...old, [name]: value },
    );
    setFaulty(({ [name]: _, ...left }) => left);
  };
  const focus = (pointer: string | null) => {
    const [name] = namesIn(pointer ?? '');
    if (more.current && folded.some(({ names }) => names.some((one) => one === name))) {
      setOpened(true);
      more.current.open = true;
    }
    focusSetting(pointer);
  };
  const save = async () => {
    const sent = changes;
    const faults: Record<string, string> = {};
    // A user who gives the path has measured it.
    const body: Record<string, unknown> = 'gaugeToWinderMm' in sent ? { pathMeasured: true } : {};
    for (const [name, typed] of Object.entries(sent)) {
      const { value, fault } = fieldValue(properties[name] ?? {}, typed);
      if (fault) faults[name] = fault;
      body[name] = value;
    }
    setFaulty(faults);
    // That earlier settings were saved would contradict a refusal.
    closeNotice();
    const wrong = Object.keys(faults)[0];
    if (wrong !== undefined) {
      focus(pointerTo(wrong));
      return;
    }
    try {
      await saveSettings(body);
      // What was typed while the service saved is not saved yet.
      setChanges((now) => Object.fromEntries(Object.entries(now).filter(([name, typed]) => sent[name] !== typed)));
      setProblem(null);
      showNotice({ text: 'Settings saved.' });
    } catch (thrown) {
      const refusal = asProblem(thrown);
      const name = fieldOf(refusal, Object.keys(properties));
      if (name !== null) {
        setFaulty({ [name]: `${refusal.message} ${refusal.detail}` });
        focus(refusal.pointer);
        setProblem(null);
      } else setProblem(refusal);
    }
  };
  const groupOf = ({ title, text, names }: SettingsGroup) => (
    <section class="part" key={title} aria-label={title}>
      <div class="part-intro">
        <h2>{title}</h2>
        <p>{text}</p>
      </div>
      <div class="form">
        {names.map((name) => {
          const schema = properties[name];
          return (
            schema && (
              <SchemaField
                key={name}
                name={name}
                schema={schema}
                value={valueIn(name)}
                fault={faulty[name] ?? null}
                set={(value) => set(name, value)}
                zoneNames={(valueIn('zoneNames') ?? []) as readonly string[]}
              />
            )
          );
        })}
      </div>
    </section>
  );
  const isChanged = Object.keys(changes).length > 0;
  return (
    <form
      class="settings-form"
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      {groupOf(first)}
      <details class="more-settings" ref={more} onToggle={() => setOpened(true)}>
        <summary>More settings</summary>
        {opened && (
          <>
            {folded.map(groupOf)}
            <RecordPanel />
          </>
        )}
      </details>
      {(isChanged || problem) && (
        <div class="save-bar">
          {problem && <ProblemNote problem={problem} />}
          {Object.keys(faulty).length > 0 && (
            <p class="fault" role="alert">
              Not saved:{' '}
              {Object.keys(faulty)
                .map((name) => properties[name]?.title ?? name)
                .join('; ')}
              .
            </p>
          )}
          <p class="actions">
            <button type="submit" class="main">
              Save the settings
            </button>
            <button
              type="button"
              onClick={() => {
                setChanges({});
                setFaulty({});
                setProblem(null);
              }}
            >
              Undo the changes
            </button>
          </p>
        </div>
      )}
    </form>
  );
}

/** Moves the focus to the field of a setting or, in a list of rows, to the field in the row. */
function focusSetting(pointer: string | null): void {
  const [name = '', row, part] = namesIn(pointer ?? '');
  requestAnimationFrame(() => {
    const block =
      row === undefined ? null : document.querySelectorAll(`[data-setting="${name}"] .row-block`)[Number(row)];
    const field =
      block?.querySelector<HTMLElement>(`[name="${part}"]`) ??
      block?.querySelector<HTMLElement>('input, select') ??
      document.getElementById(`set-${name}`);
    field?.focus();
  });
}
