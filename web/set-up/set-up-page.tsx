import { useEffect, useState } from 'preact/hooks';
import { namesIn, pointerTo } from '../../server/problem/pointer.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { fieldOf } from '../form/field-of.ts';
import { focusField } from '../form/use-faults.ts';
import { refetchVersion } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { saveSettings } from '../service/settings.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { fieldValue } from './field-value.ts';
import { GROUPS, ungrouped } from './groups.ts';
import { IncomingValues } from './incoming-values.tsx';
import { RecordPanel } from './record-panel.tsx';
import { guessedMapping, type Mapping } from './role-text.ts';
import { SchemaField } from './schema-field.tsx';
import { loadWithSchema, type SettingsAnswer } from './settings-store.ts';
import { SourcePicker } from './source-picker.tsx';

/** All settings of the line, from the schema that the service checks them with. */
export default function SetUpPage() {
  const [answer, setAnswer] = useState<SettingsAnswer | null>(null);
  const [draft, setDraft] = useState<Record<string, unknown>>({});
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [faulty, setFaulty] = useState<Record<string, string>>({});
  const version = refetchVersion.value;
  useEffect(() => {
    loadWithSchema().then(
      (loaded) => {
        setAnswer(loaded);
        setDraft({ ...loaded.settings });
        setProblem(null);
      },
      (thrown) => setProblem(asProblem(thrown)),
    );
  }, [version]);
  if (!answer) return problem ? <ProblemNote problem={problem} /> : <p class="quiet">Fetching the settings …</p>;
  const { properties } = answer.schema;
  const rest = ungrouped(Object.keys(properties));
  const groups = [
    ...GROUPS,
    ...(rest.length > 0 ? [{ title: 'Further', text: '', names: rest as (keyof LineSettings)[] }] : []),
  ];
  const changed = JSON.stringify(draft) !== JSON.stringify(answer.settings);
  const set = (name: string, value: unknown) => {
    setDraft((old) => ({ ...old, [name]: value }));
    setFaulty(({ [name]: _, ...others }) => others);
  };

  const mapName = (name: string, raw: number) => {
    const roles = (draft.roles as Mapping[] | undefined) ?? [];
    const taken = roles.map((one) => one.role);
    set('roles', [...roles, guessedMapping(name, raw, taken)]);
    // The user must check the suggestion.
    requestAnimationFrame(() => {
      const rows = document.querySelectorAll<HTMLElement>('[data-setting="roles"] .row-block');
      rows[rows.length - 1]?.querySelector('select')?.focus();
      rows[rows.length - 1]?.scrollIntoView({ block: 'center' });
    });
  };

  const save = async () => {
    const faults: Record<string, string> = {};
    const body: Record<string, unknown> = {};
    for (const [name, typed] of Object.entries(draft)) {
      const { value, fault } = fieldValue(properties[name] ?? {}, typed);
      if (fault) faults[name] = fault;
      body[name] = value;
    }
    setFaulty(faults);
    const first = Object.keys(faults)[0];
    if (first !== undefined) {
      focusSetting(pointerTo(first));
      return;
    }
    try {
      const next = await saveSettings(body);
      setAnswer({ ...answer, settings: next });
      setDraft({ ...next });
      setProblem(null);
      showNotice({ text: 'Settings saved.' });
    } catch (thrown) {
      const refusal = asProblem(thrown);
      const name = fieldOf(refusal, Object.keys(properties));
      if (name !== null) {
        setFaulty({ [name]: `${refusal.message} ${refusal.detail}` });
        focusSetting(refusal.pointer);
        setProblem(null);
      } else setProblem(refusal);
    }
  };

  return (
    <form
      class="set-up"
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      <header class="page-head">
        <h1>Set-up</h1>
        <p>
          What Strandward should know of this line and of the printer that its filament is for.{' '}
          <a href="/printers">More printers</a> · <a href="/alarms">Alarms</a>
        </p>
      </header>
      <SourcePicker
        source={answer.sourceInUse}
        scenarios={answer.scenarios}
        fixed={answer.sourceFixed}
        set={(source) => set('source', source)}
      />
      {faulty.source && <p class="fault">{faulty.source}</p>}
      <IncomingValues settings={answer.settings} roles={(draft.roles as Mapping[] | undefined) ?? []} map={mapName} />
      {groups.map((group) => (
        <section class="part" key={group.title} aria-label={group.title}>
          <div class="part-intro">
            <h2>{group.title}</h2>
            <p>{group.text}</p>
          </div>
          <div class="form">
            {group.names.map((name) => {
              const schema = properties[name];
              return (
                schema && (
                  <SchemaField
                    key={name}
                    name={name}
                    schema={schema}
                    value={draft[name]}
                    fault={faulty[name] ?? null}
                    set={(value) => set(name, value)}
                  />
                )
              );
            })}
          </div>
        </section>
      ))}
      <RecordPanel />
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
          <button type="submit" class="main" disabled={!changed}>
            Save the settings
          </button>
          <button
            type="button"
            disabled={!changed}
            onClick={() => {
              setDraft({ ...answer.settings });
              setFaulty({});
              setProblem(null);
            }}
          >
            Undo the changes
          </button>
        </p>
      </div>
    </form>
  );
}

/** Moves the focus to the field of a setting or, in a list of rows, to the field in the row. */
function focusSetting(pointer: string | null): void {
  const [name = '', row, part] = namesIn(pointer ?? '');
  if (row === undefined) {
    focusField(`set-${name}`);
    return;
  }
  requestAnimationFrame(() => {
    const block = document.querySelectorAll(`[data-setting="${name}"] .row-block`)[Number(row)];
    const field =
      block?.querySelector<HTMLElement>(`[name="${part}"]`) ??
      block?.querySelector<HTMLElement>('input, select') ??
      document.getElementById(`set-${name}`);
    field?.focus();
  });
}
