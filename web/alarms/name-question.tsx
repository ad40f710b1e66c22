import { signal } from '@preact/signals';
import { useState } from 'preact/hooks';
import { TextField } from '../form/text-field.tsx';
import { askForName, PERSON_NAME_MAX, personName, setPersonName } from '../service/person.ts';
import { me } from '../service/session.ts';
import { showNotice } from '../shell/notice.tsx';

const asking = signal(false);
const STAYS_MS = 60_000;

/** To be called after an alarm was answered: never before, because an answer must not wait for a name. */
export function alarmAnswered(): void {
  const named = personName.peek() !== '' || me.peek()?.device != null;
  if (named || !askForName()) return;
  asking.value = true;
  setTimeout(() => {
    asking.value = false;
  }, STAYS_MS);
}

/** Asks once on a device, and only where neither it nor its user has a name. */
export function NameQuestion() {
  return asking.value ? <Question /> : null;
}

function Question() {
  const [name, setName] = useState('');
  const close = () => {
    asking.value = false;
  };
  return (
    <form
      class="toast name-question"
      aria-label="Your name on this device"
      onSubmit={(event) => {
        event.preventDefault();
        if (name.trim() === '') return;
        setPersonName(name);
        close();
        showNotice({ text: `Your answers on this device are recorded as ${name.trim()} from now on.` });
      }}
    >
      <TextField
        id="asked-name"
        label="Done. What is your name, for the journal?"
        autocomplete="name"
        maxLength={PERSON_NAME_MAX}
        value={name}
        set={setName}
      />
      <span class="name-question-buttons">
        <button type="submit" class="plain">
          Save
        </button>
        <button type="button" class="plain" onClick={close}>
          No name
        </button>
      </span>
    </form>
  );
}
