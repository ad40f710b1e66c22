import { useState } from 'preact/hooks';
import type { CopiedView, OtherLineView } from '../../server/api/contract/lines.ts';
import { InlineForm } from '../form/inline-form.tsx';
import { TextField } from '../form/text-field.tsx';
import { useFaults } from '../form/use-faults.ts';
import { counted } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { ProblemNote } from '../shell/problem-note.tsx';

/** Copies what the lines of a house have in common, with a token that is used once. */
export function CopyToLine({ line }: { line: OtherLineView }) {
  const [manageToken, setManageToken] = useState('');
  const [copied, setCopied] = useState<CopiedView | null>(null);
  const { faults, problem, showThrown, clearAll } = useFaults(['manageToken'], (name) => `copy-${name}`);
  const copy = async () => {
    clearAll();
    setCopied(null);
    try {
      setCopied(await call('POST /api/lines/:id/copy', { params: { id: line.id }, body: { manageToken } }));
      setManageToken('');
    } catch (thrown) {
      showThrown(thrown);
    }
  };
  return (
    <div class="copy-to-line" data-testid="copy-to-line">
      <p class="fine">
        People, printers and the material of the present run go to {line.title}. What it already has under the same name
        stays as it is. Passwords do not leave this line.
      </p>
      <InlineForm button="Copy" ready={manageToken.trim() !== ''} submit={copy}>
        <TextField
          id="copy-manageToken"
          label="Token to manage"
          hint="Of that line, used once: Set-up → Devices → Add a token."
          type="password"
          maxLength={200}
          fault={faults.manageToken}
          value={manageToken}
          set={setManageToken}
        />
      </InlineForm>
      {problem && <ProblemNote problem={problem} />}
      {copied && (
        <div role="status">
          <p>{copiedText(copied)}</p>
          {copied.leftOut.map((why) => (
            <p key={why} class="fine">
              {why}
            </p>
          ))}
        </div>
      )}
    </div>
  );
}

function copiedText({ people, printers, material }: CopiedView): string {
  const what = [
    people > 0 && counted(people, 'person', 'people'),
    printers > 0 && counted(printers, 'printer'),
    material && 'the material',
  ].filter((one) => one !== false);
  return what.length === 0 ? 'Nothing was new there.' : `Copied: ${what.join(', ')}.`;
}
