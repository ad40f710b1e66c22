import { useState } from 'preact/hooks';
import type { CredentialView } from '../../server/api/contract/devices.ts';
import { CREDENTIAL_NAME_MAX, type Right } from '../../server/entities/device.ts';
import { ChoiceField } from '../form/field.tsx';
import { TextField } from '../form/text-field.tsx';
import { useFaults } from '../form/use-faults.ts';
import { call } from '../service/call.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { CredentialList } from './credential-list.tsx';
import { RIGHT_HINT, TOKEN_RIGHT_CHOICES } from './right-text.ts';

interface Props {
  readonly tokens: readonly CredentialView[];
  changed(): Promise<void>;
}

/** Tokens of programs. A new one is shown once. */
export function TokenPart({ tokens, changed }: Props) {
  const [open, setOpen] = useState(false);
  const [added, setAdded] = useState<{ readonly name: string; readonly token: string } | null>(null);
  return (
    <section class="part" aria-labelledby="tokens-title">
      <div class="part-intro">
        <h2 id="tokens-title">Programs</h2>
        <p>
          A program sends its token as <code>Authorization: Bearer TOKEN</code>. Give each its own, so that one can be
          removed.
        </p>
      </div>
      <div>
        <CredentialList kind="token" list={tokens} changed={changed} />
        {added && (
          <div class="invite" role="status">
            <p>
              The token of <strong>{added.name}</strong>. Copy it now: it is not shown again.
            </p>
            <p class="invitation-link" data-testid="new-token">
              {added.token}
            </p>
            <p class="actions">
              <button type="button" onClick={() => setAdded(null)}>
                I have copied it
              </button>
            </p>
          </div>
        )}
        {open && (
          <TokenForm
            close={() => setOpen(false)}
            added={async (made) => {
              setAdded(made);
              setOpen(false);
              await changed();
            }}
          />
        )}
        {!open && !added && (
          <p class="actions">
            <button type="button" onClick={() => setOpen(true)}>
              Add a token
            </button>
          </p>
        )}
      </div>
    </section>
  );
}

interface FormProps {
  close(): void;
  added(made: { readonly name: string; readonly token: string }): Promise<void>;
}

function TokenForm({ close, added }: FormProps) {
  const [name, setName] = useState('');
  const [right, setRight] = useState<Right>('watch');
  const { faults, problem, showThrown, clearAll } = useFaults(['name'], () => 'token-name');
  const add = async () => {
    try {
      const { token, program } = await call('POST /api/tokens', { body: { name, right } });
      await added({ name: program.name, token });
    } catch (thrown) {
      showThrown(thrown);
    }
  };
  return (
    <form
      class="form token-form"
      aria-label="Add a token"
      onSubmit={(event) => {
        event.preventDefault();
        clearAll();
        void add();
      }}
    >
      <TextField
        id="token-name"
        label="Name of the program"
        maxLength={CREDENTIAL_NAME_MAX}
        fault={faults.name}
        value={name}
        set={setName}
      />
      <ChoiceField
        id="token-right"
        label="It may"
        hint={RIGHT_HINT}
        value={right}
        choices={TOKEN_RIGHT_CHOICES}
        set={setRight}
      />
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main">
          Add the token
        </button>
        <button type="button" onClick={close}>
          Cancel
        </button>
      </p>
    </form>
  );
}
