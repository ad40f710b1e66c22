import { useEffect, useState } from 'preact/hooks';
import { capital } from '../../server/problem/sentence.ts';
import { call } from '../service/call.ts';
import { live } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';

type Port = Awaited<ReturnType<typeof call<'GET /api/serial-ports'>>>[number];

const LOOK_EVERY_MS = 2000;

interface Props {
  /** Path of the port that the service reads; null = it reads none. */
  readonly inUse: string | null;
  readonly fixed: boolean;
  /** Reads a port from now on. */
  readonly use: (path: string) => void;
}

/** The serial ports, kept current. One click uses a port. */
export function PortList({ inUse, fixed, use }: Props) {
  const { ports, problem } = usePorts();
  // A port that the system does not list, such as a pseudo-terminal, may well be open.
  const isOpen = inUse !== null && live.value?.link.phase === 'open';
  return (
    <div class="ports wide" data-testid="ports">
      {problem && <ProblemNote problem={problem} />}
      {ports?.length === 0 && !isOpen && (
        <p class="quiet">No port was found. Plug your board in: it will appear here.</p>
      )}
      <ul>
        {ports?.map((port) => (
          <PortRow
            key={port.path}
            port={port}
            inUse={inUse === port.stablePath || inUse === port.path}
            fixed={fixed}
            use={use}
          />
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

/** The ports of the service's machine, asked for again while the page is visible. */
function usePorts(): { readonly ports: readonly Port[] | null; readonly problem: ServiceProblem | null } {
  const [ports, setPorts] = useState<readonly Port[] | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    const over = new AbortController();
    let timer: ReturnType<typeof setTimeout> | undefined;
    const look = async () => {
      if (document.visibilityState === 'visible') {
        try {
          setPorts(await call('GET /api/serial-ports', { signal: over.signal }));
          setProblem(null);
        } catch (thrown) {
          if (!over.signal.aborted) setProblem(asProblem(thrown));
        }
      }
      if (!over.signal.aborted) timer = setTimeout(look, LOOK_EVERY_MS);
    };
    void look();
    return () => {
      clearTimeout(timer);
      over.abort();
    };
  }, []);
  return { ports, problem };
}
