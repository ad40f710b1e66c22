import { useEffect, useRef, useState } from 'preact/hooks';
import { TextField } from '../form/text-field.tsx';
import { keyWanted, setAccessKey } from '../service/access-key.ts';

/** Asks for the access key once. The browser stores it. */
export function AccessKeyDialog() {
  const dialog = useRef<HTMLDialogElement>(null);
  const [key, setKey] = useState('');
  const wanted = keyWanted.value;
  useEffect(() => {
    if (wanted && dialog.current?.open === false) dialog.current.showModal();
    if (!wanted) dialog.current?.close();
  }, [wanted]);
  return (
    <dialog ref={dialog} class="dialog" aria-labelledby="key-title" onCancel={(event) => event.preventDefault()}>
      <form
        method="dialog"
        onSubmit={(event) => {
          event.preventDefault();
          if (key.trim() !== '') {
            setAccessKey(key.trim());
            location.reload();
          }
        }}
      >
        <h2 id="key-title">Access key</h2>
        <p class="dialog-lead">
          This service is reachable beyond its own machine and asks for its access key. The browser keeps it.
        </p>
        <input
          type="text"
          class="visually-hidden"
          autocomplete="username"
          value="strandward"
          readOnly
          tabIndex={-1}
          aria-hidden="true"
        />
        <TextField label="Access key" type="password" autocomplete="current-password" value={key} set={setKey} />
        <p class="actions">
          <button type="submit" class="main">
            Go on
          </button>
        </p>
      </form>
    </dialog>
  );
}
