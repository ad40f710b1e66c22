import { useEffect, useState } from 'preact/hooks';
import { ChoiceField } from '../form/field.tsx';
import { TextField } from '../form/text-field.tsx';
import { PortList } from './port-list.tsx';
import { ports } from './ports-store.ts';
import { ReleasePort } from './release-port.tsx';
import { partsOf, type SourceParts, sourceText } from './source-text.ts';

const FRESH_PORT = { kind: 'serial', path: '', baud: '115200' } as const;

const KINDS: readonly { readonly kind: SourceParts['kind']; readonly text: string; readonly fresh: SourceParts }[] = [
  { kind: 'simulator', text: 'Simulator', fresh: { kind: 'simulator', scenario: '' } },
  { kind: 'serial', text: 'Serial port', fresh: FRESH_PORT },
  { kind: 'tcp', text: 'Network', fresh: { kind: 'tcp', address: '' } },
  { kind: 'file', text: 'Recorded file', fresh: { kind: 'file', path: '', pace: '1' } },
];

interface Props {
  /** The source that the service reads. */
  readonly source: string;
  readonly scenarios: readonly string[];
  readonly fixed: boolean;
  /** Another source was entered; it is not used yet. */
  readonly set: (source: string) => void;
  /** Uses a source at once. */
  readonly use: (source: string) => void;
}

/** Selects the source of the reading lines. */
export function SourcePicker({ source, scenarios, fixed, set, use }: Props) {
  const [parts, setParts] = useState<SourceParts>(() => partsOf(source));
  useEffect(() => setParts(partsOf(source)), [source]);
  const inUse = partsOf(source);
  const change = (next: SourceParts) => {
    setParts(next);
    set(sourceText(next));
  };
  return (
    <section class="part" aria-labelledby="source-title">
      <div class="part-intro">
        <h2 id="source-title">The source</h2>
        <p>
          Where the reading lines come from.
          {fixed && (
            <>
              {' '}
              Set when the service was started, as <span class="raw">{source}</span>. Change it there.
            </>
          )}
        </p>
      </div>
      <div class="form">
        <fieldset class="switch" disabled={fixed}>
          <legend>Kind</legend>
          {KINDS.map((one) => (
            <label key={one.kind}>
              <input
                type="radio"
                name="source-kind"
                checked={parts.kind === one.kind}
                onChange={() => change(one.fresh)}
              />
              <span>{one.text}</span>
            </label>
          ))}
        </fieldset>
        {/* A board that was just plugged in is used with one tap, whatever the source is now. */}
        {(parts.kind === 'serial' || (!fixed && inUse.kind !== 'serial' && (ports.value ?? []).length > 0)) && (
          <PortList
            inUse={inUse}
            fixed={fixed}
            use={(path) => use(sourceText(parts.kind === 'serial' ? { ...parts, path } : { ...FRESH_PORT, path }))}
          />
        )}
        {parts.kind === 'simulator' && (
          <Scenarios
            scenario={parts.scenario}
            names={scenarios}
            fixed={fixed}
            set={(scenario) => change({ ...parts, scenario })}
          />
        )}
        {parts.kind === 'serial' && (
          <>
            <TextField
              label="Port"
              hint="For a port that is not in the list."
              value={parts.path}
              disabled={fixed}
              set={(path) => change({ ...parts, path })}
            />
            <TextField
              label="Baud rate"
              hint="As in Serial.begin(…) in your sketch."
              value={parts.baud}
              disabled={fixed}
              set={(baud) => change({ ...parts, baud })}
            />
          </>
        )}
        {parts.kind === 'tcp' && (
          <TextField
            label="Host and port"
            hint="Such as 192.168.1.40:8080."
            value={parts.address}
            disabled={fixed}
            set={(address) => change({ ...parts, address })}
          />
        )}
        {parts.kind === inUse.kind && (parts.kind === 'serial' || parts.kind === 'tcp') && <ReleasePort />}
        {parts.kind === 'file' && (
          <>
            <TextField
              label="File"
              hint="A path on the service’s machine."
              value={parts.path}
              disabled={fixed}
              set={(path) => change({ ...parts, path })}
            />
            <TextField
              label="Pace"
              hint="1 is as recorded, 10 ten times as fast, max as fast as possible."
              value={parts.pace}
              disabled={fixed}
              set={(pace) => change({ ...parts, pace })}
            />
          </>
        )}
      </div>
    </section>
  );
}

/** The scenarios by name. Other parameters of a scenario (seed, pace) are kept. */
function Scenarios(props: {
  scenario: string;
  names: readonly string[];
  fixed: boolean;
  set: (scenario: string) => void;
}) {
  const [name = '', ...more] = props.scenario.split('?');
  const query = more.length === 0 ? '' : `?${more.join('?')}`;
  return (
    <ChoiceField
      label="Scenario"
      hint={`What the simulated line does${query === '' ? '' : `, with ${query.slice(1)}`}.`}
      value={name}
      choices={[
        ['', 'evening (default)'],
        ...[...new Set([...props.names, ...(name === '' ? [] : [name])])].map((one) => [one, one] as const),
      ]}
      disabled={props.fixed}
      set={(scenario) => props.set(scenario + query)}
    />
  );
}
