import { useEffect, useState } from 'preact/hooks';
import type { OtherLineView } from '../../server/api/contract/lines.ts';
import { TextField } from '../form/text-field.tsx';
import { useFaults } from '../form/use-faults.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { CopyToLine } from './copy-to-line.tsx';

const LOAD_EVERY_MS = 3000;

/** The other lines that the page Lines shows, and how to add one. */
export function OtherLinesPart() {
  const [list, setList] = useState<readonly OtherLineView[] | null>(null);
  const [open, setOpen] = useState<number | 'new' | null>(null);
  const [copying, setCopying] = useState<number | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const load = () =>
    call('GET /api/lines').then(
      (loaded) => setList(loaded),
      // The banner reports a lost connection.
      () => {},
    );
  useEffect(() => {
    void load();
    const timer = setInterval(load, LOAD_EVERY_MS);
    return () => clearInterval(timer);
  }, []);
  const done = async (text: string) => {
    setOpen(null);
    showNotice({ text });
    await load();
  };
  const remove = async ({ id, address }: OtherLineView) => {
    try {
      await call('DELETE /api/lines/:id', { params: { id } });
      setProblem(null);
      await done(`${address} is no longer shown here.`);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <section class="part" id="other-lines" aria-labelledby="other-lines-title">
      <div class="part-intro">
        <h2 id="other-lines-title">Other lines</h2>
        <p>
          The page <a href="/lines">Lines</a> shows this line and the others of the house. Each is watched by its own
          service and notifies people itself.
        </p>
      </div>
      <div>
        {problem && <ProblemNote problem={problem} />}
        {list !== null && list.length > 0 && (
          <ul class="contacts">
            {list.map((line) => (
              <li key={line.id} data-testid="other-line">
                <div class="channel-text">
                  <p>
                    <strong>{line.name || line.address}</strong>{' '}
                    {line.name && <span class="quiet">{line.address}</span>}
                  </p>
                  {line.trouble === '' ? (
                    <p class="quiet">
                      {line.name === '' ? 'Connecting …' : 'Connected'}
                      {line.mayAcknowledge ? '. Alarms can be acknowledged from here' : ', only to watch'}
                    </p>
                  ) : (
                    <p class="failing">{line.trouble}</p>
                  )}
                </div>
                {open === line.id ? (
                  <LineForm line={line} close={() => setOpen(null)} done={done} />
                ) : (
                  <p class="row-actions">
                    <button
                      type="button"
                      class="plain"
                      aria-label={`Change ${line.name || line.address}`}
                      onClick={() => setOpen(line.id)}
                    >
                      Change
                    </button>
                    <button
                      type="button"
                      class="plain"
                      aria-expanded={copying === line.id}
                      aria-label={`Copy people and printers to ${line.name || line.address}`}
                      onClick={() => setCopying(copying === line.id ? null : line.id)}
                    >
                      Copy people and printers
                    </button>
                    <button
                      type="button"
                      class="plain"
                      aria-label={`Remove ${line.name || line.address}`}
                      onClick={() => remove(line)}
                    >
                      Remove
                    </button>
                  </p>
                )}
                {copying === line.id && <CopyToLine line={line} />}
              </li>
            ))}
          </ul>
        )}
        {open === 'new' ? (
          <LineForm line={null} close={() => setOpen(null)} done={done} />
        ) : (
          <p class="actions">
            <button type="button" onClick={() => setOpen('new')}>
              Add another line
            </button>
          </p>
        )}
        <details>
          <summary>A line that has no service yet</summary>
          <p>On a machine with systemd, one command adds a service and starts it:</p>
          <p class="raw">sudo strandward install-service --line NAME --source ADDRESS</p>
          <p>It gets its own port, settings and record. With containers, see docker-compose.yml.</p>
        </details>
      </div>
    </section>
  );
}

interface FormProps {
  /** null = a new one. */
  readonly line: OtherLineView | null;
  close(): void;
  done(text: string): Promise<void>;
}

function LineForm({ line, close, done }: FormProps) {
  const [address, setAddress] = useState(line?.address ?? '');
  const [watchToken, setWatchToken] = useState('');
  const [actToken, setActToken] = useState('');
  const fields = ['address', 'watchToken', 'actToken'] as const;
  const { faults, problem, showThrown, clearAll } = useFaults(fields, (name) => `line-${name}`);
  const save = async (act = actToken === '' ? {} : { actToken }) => {
    clearAll();
    // What is left empty is kept.
    const body = { address, ...(watchToken === '' ? {} : { watchToken }), ...act };
    try {
      if (line === null) await call('POST /api/lines', { body });
      else await call('PUT /api/lines/:id', { params: { id: line.id }, body });
      await done(line === null ? 'The line is added.' : 'The line is changed.');
    } catch (thrown) {
      showThrown(thrown);
    }
  };
  const kept = line === null ? '' : 'saved; leave empty to keep it';
  return (
    <form
      class="form"
      aria-label={line === null ? 'Add another line' : `Change ${line.name || line.address}`}
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      <TextField
        id="line-address"
        label="Address"
        hint="The address of that line’s page, such as http://192.0.2.7:8751"
        maxLength={200}
        fault={faults.address}
        value={address}
        set={setAddress}
      />
      <TextField
        id="line-watchToken"
        label="Token to watch"
        hint="Made on that line: Set-up → Devices → Add a token."
        type="password"
        maxLength={200}
        placeholder={kept}
        fault={faults.watchToken}
        value={watchToken}
        set={setWatchToken}
      />
      <TextField
        id="line-actToken"
        label="Token to act"
        hint="Optional: to acknowledge its alarms from here."
        type="password"
        maxLength={200}
        placeholder={line?.mayAcknowledge ? kept : ''}
        fault={faults.actToken}
        value={actToken}
        set={setActToken}
      />
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main">
          {line === null ? 'Add the line' : 'Save'}
        </button>
        {line?.mayAcknowledge && (
          <button type="button" onClick={() => save({ actToken: '' })}>
            Remove the token to act
          </button>
        )}
        <button type="button" onClick={close}>
          Cancel
        </button>
      </p>
    </form>
  );
}
