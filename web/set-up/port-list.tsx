import { capital } from '../../server/problem/sentence.ts';
import { live } from '../service/live-store.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { isPortOf, type Port, ports, portsProblem } from './ports-store.ts';
import type { SourceParts } from './source-text.ts';

interface Props {
  /** What the service reads. */
  readonly inUse: SourceParts;
  readonly fixed: boolean;
  /** Reads a port from now on. */
  readonly use: (path: string) => void;
}

/** The serial ports, kept current. One click uses a port. */
export function PortList({ inUse, fixed, use }: Props) {
  const found = ports.value;
  const link = live.value?.link;
  const isListed = found?.some((port) => isPortOf(inUse, port)) === true;
  return (
    <div class="ports wide" data-testid="ports">
      {portsProblem.value && <ProblemNote problem={portsProblem.value} />}
      {found?.length === 0 && inUse.kind !== 'serial' && (
        <p class="quiet">No port was found. Plug your board in: it will appear here.</p>
      )}
      <ul>
        {/* It was unplugged, or is one that the system does not list, such as a pseudo-terminal. */}
        {found !== null && inUse.kind === 'serial' && !isListed && (
          <li>
            <span class="port-name">
              <strong class="raw">{inUse.path}</strong>
              {link && <span class="hint">{link.text}</span>}
            </span>
            <span class="port-in-use">In use here</span>
          </li>
        )}
        {found?.map((port) => (
          <PortRow key={port.path} port={port} inUse={isPortOf(inUse, port)} fixed={fixed} use={use} />
        ))}
      </ul>
    </div>
  );
}

function PortRow({ port, inUse, fixed, use }: { port: Port; inUse: boolean } & Omit<Props, 'inUse'>) {
  const link = live.value?.link;
  // Of the port in use, the service itself knows best.
  const state = inUse && link ? link.text : port.problem && `${capital(port.problem)}.`;
  return (
    <li>
      <span class="port-name">
        <strong>{port.title}</strong> {port.title !== port.path && <span class="raw">{port.path}</span>}
        {state && <span class="hint">{state}</span>}
      </span>
      {inUse ? (
        <span class="port-in-use">In use here</span>
      ) : (
        <button type="button" disabled={fixed} aria-label={`Use ${port.title}`} onClick={() => use(port.stablePath)}>
          Use this port
        </button>
      )}
    </li>
  );
}
