import { useEffect, useState } from 'preact/hooks';
import { ChoiceField } from '../form/field.tsx';
import { TextField } from '../form/text-field.tsx';
import { call } from '../service/call.ts';
import { live } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { partsOf, type SourceParts, sourceText } from './source-text.ts';

type Port = Awaited<ReturnType<typeof call<'GET /api/serial-ports'>>>[number];

const KINDS: readonly { readonly kind: SourceParts['kind']; readonly text: string; readonly fresh: SourceParts }[] = [
  { kind: 'simulator', text: 'Simulator', fresh: { kind: 'simulator', scenario: '' } },
  { kind: 'serial', text: 'Serial port', fresh: { kind: 'serial', path: '', baud: '115200' } },
  { kind: 'tcp', text: 'Network', fresh: { kind: 'tcp', address: '' } },
  { kind: 'file', text: 'Recorded file', fresh: { kind: 'file', path: '', pace: '1' } },
];

/** Selects the source of the reading lines. */
export function SourcePicker({
  source,
  scenarios,
  fixed,
  set,
}: {
  source: string;
  scenarios: readonly string[];
  fixed: boolean;
  set: (source: string) => void;
}) {
  const [parts, setParts] = useState<SourceParts>(() => partsOf(source));
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
              It was given on the command line (or in the environment) as <span class="raw">{source}</span>, which
              decides: it cannot be changed here.
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
            <Ports chosen={parts.path} fixed={fixed} choose={(path) => change({ ...parts, path })} />
            <TextField
              label="Port"
              hint="Choose above or type a path."
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
        {parts.kind === 'serial' && parts.path !== '' && <ReleasePort />}
        {parts.kind === 'tcp' && (
          <TextField
            label="Host and port"
            hint="Such as 192.168.1.40:8080."
            value={parts.address}
            disabled={fixed}
            set={(address) => change({ ...parts, address })}
          />
        )}
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

const RELEASE_S = 120;

/** Lets another program use the port, so that a sketch can be flashed without stopping the service. */
function ReleasePort() {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const link = live.value?.link;
  const released = link?.phase === 'released';
  const release = (forS: number) => {
    call('POST /api/source/release', { body: { forS } }).then(
      () => setProblem(null),
      (thrown) => setProblem(asProblem(thrown)),
    );
  };
  return (
    <div class="wide" data-testid="release-port">
      <p class="actions">
        <button type="button" onClick={() => release(released ? 0 : RELEASE_S)}>
          {released ? 'Use the port again now' : 'Release the port for 2 minutes'}
        </button>
      </p>
      <p class="hint">
        {released
          ? link.text
          : 'To flash a sketch. The line is not watched meanwhile; the port is opened again automatically.'}
      </p>
      {problem && <ProblemNote problem={problem} />}
    </div>
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
        ['', 'evening, as usual'],
        ...[...new Set([...props.names, ...(name === '' ? [] : [name])])].map((one) => [one, one] as const),
      ]}
      disabled={props.fixed}
      set={(scenario) => props.set(scenario + query)}
    />
  );
}

function Ports({ chosen, fixed, choose }: { chosen: string; fixed: boolean; choose: (path: string) => void }) {
  const [ports, setPorts] = useState<readonly Port[] | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const look = () => {
    call('GET /api/serial-ports').then(
      (answer) => {
        setPorts(answer);
        setProblem(null);
      },
      (thrown) => setProblem(asProblem(thrown)),
    );
  };
  useEffect(look, []);
  return (
    <div class="ports wide">
      {problem && <ProblemNote problem={problem} />}
      {ports?.length === 0 && <p class="quiet">No port was found. Plug the microcontroller in, then look again.</p>}
      <ul>
        {ports?.map((port) => (
          <li key={port.path}>
            <label>
              <input
                type="radio"
                name="port"
                disabled={fixed}
                checked={chosen === port.stablePath || chosen === port.path}
                onChange={() => choose(port.stablePath || port.path)}
              />
              <span>
                {port.title} <span class="raw">{port.path}</span>
              </span>
            </label>
          </li>
        ))}
      </ul>
      <button type="button" class="plain" onClick={look}>
        Look again
      </button>
    </div>
  );
}
