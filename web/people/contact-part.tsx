import { useState } from 'preact/hooks';
import type { ContactInput, ContactView, PeopleView } from '../../server/api/contract/people.ts';
import { NEW_CONTACT } from '../../server/escalation/contact.ts';
import { ChoiceField } from '../form/field.tsx';
import { NumberField } from '../form/number-field.tsx';
import { TextField } from '../form/text-field.tsx';
import { useFaults } from '../form/use-faults.ts';
import { serviceClockText } from '../format/times.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { removeContact, saveContact } from './people-store.ts';
import { channelName, filterText, notifiedText, PRIORITY_CHOICES, roundText } from './people-text.ts';
import { UnreadableItem, unreadable } from './unreadable-item.tsx';

const FIELDS = ['name', 'round', 'channelIds', 'wakeAboveBlobsPerHour', 'quiet'] as const;

/** Who is notified, through which channels, of which alarms, and in which order. */
export function ContactPart({ view }: { view: PeopleView }) {
  const [open, setOpen] = useState<number | 'new' | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const sorted = [...view.contacts].sort((a, b) => a.round - b.round || a.name.localeCompare(b.name));
  const remove = async ({ id, ...contact }: ContactView) => {
    try {
      await removeContact(id);
      showNotice({
        text: `${contact.name} is no longer notified.`,
        undo: () => saveContact(null, contact).catch((thrown) => setProblem(asProblem(thrown))),
      });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <section class="part" aria-labelledby="contacts-title">
      <div class="part-intro">
        <h2 id="contacts-title">Who</h2>
        <p>
          A person, or a group that shares a channel. Each message starts with “Get up” or “Can wait”. Those worth
          getting up for are sent at any hour.
        </p>
      </div>
      <div>
        {problem && <ProblemNote problem={problem} />}
        <ul class="contacts">
          {sorted.map((contact) => (
            <li key={contact.id} data-testid="contact">
              {open === contact.id ? (
                <ContactForm view={view} contact={contact} close={() => setOpen(null)} />
              ) : (
                <>
                  <div>
                    <p>
                      <strong>{contact.name}</strong> <span class="quiet">notified {notifiedText(contact, view)}</span>
                    </p>
                    <p class="quiet">
                      {contact.channelIds.length === 0
                        ? 'Has no channel, so nothing reaches them.'
                        : `By ${contact.channelIds.map((id) => channelName(view, id)).join(', ')}.`}{' '}
                      {filterText(contact)}
                    </p>
                  </div>
                  <p class="row-actions">
                    <button
                      type="button"
                      class="plain"
                      aria-label={`Change ${contact.name}`}
                      onClick={() => setOpen(contact.id)}
                    >
                      Change
                    </button>
                    <button
                      type="button"
                      class="plain"
                      aria-label={`Remove ${contact.name}`}
                      onClick={() => remove(contact)}
                    >
                      Remove
                    </button>
                  </p>
                </>
              )}
            </li>
          ))}
          {unreadable(view, 'person').map(({ id, name }) => (
            <UnreadableItem
              key={`unreadable-${id}`}
              name={name ?? 'A person'}
              remove={() => removeContact(id).catch((thrown) => setProblem(asProblem(thrown)))}
            />
          ))}
        </ul>
        {open === 'new' ? (
          <ContactForm view={view} contact={null} close={() => setOpen(null)} />
        ) : (
          <p class="actions">
            <button type="button" onClick={() => setOpen('new')}>
              Add a person or group
            </button>
          </p>
        )}
      </div>
    </section>
  );
}

function ContactForm({ view, contact, close }: { view: PeopleView; contact: ContactView | null; close: () => void }) {
  const [draft, setDraft] = useState<ContactInput>(() => {
    if (contact === null)
      return {
        ...NEW_CONTACT,
        name: '',
        channelIds: view.channels.length === 1 ? view.channels.map(({ id }) => id) : [],
      };
    const { id: _, ...input } = contact;
    return input;
  });
  const { faults, problem, showThrown, clear } = useFaults(FIELDS, (name) => `contact-${name}`);
  const set = (more: Partial<ContactInput>) => {
    clear(...FIELDS.filter((name) => name in more));
    setDraft({ ...draft, ...more });
  };
  const toggle = (id: number) => {
    const has = draft.channelIds.includes(id);
    set({ channelIds: has ? draft.channelIds.filter((one) => one !== id) : [...draft.channelIds, id] });
  };
  const save = async () => {
    try {
      await saveContact(contact?.id ?? null, draft);
      showNotice({ text: contact ? `${draft.name} changed.` : `${draft.name} added.` });
      close();
    } catch (thrown) {
      showThrown(thrown);
    }
  };
  return (
    <form
      class="form"
      aria-label={contact ? `Change ${contact.name}` : 'Add a person or group'}
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      <TextField id="contact-name" label="Name" value={draft.name} fault={faults.name} set={(name) => set({ name })} />
      <ChoiceField
        id="contact-round"
        label="Notified"
        fault={faults.round}
        value={String(draft.round)}
        choices={[1, 2, 3].map((round) => [String(round), roundText(round, view.rules.escalateAfterMin)] as const)}
        set={(round) => set({ round: Number(round) })}
      />
      <ChoiceField
        id="contact-priority"
        label="Of which alarms"
        value={draft.leastPriority}
        choices={PRIORITY_CHOICES}
        set={(leastPriority) => set({ leastPriority })}
      />
      <NumberField
        id="contact-wakeAboveBlobsPerHour"
        label="Blobs an hour that can wait"
        hint="More are worth getting up for; 0 = every blob is. Heat and a lost strand always are, and so is the blob that costs the spool its long clean piece."
        fault={faults.wakeAboveBlobsPerHour}
        bounds={{ type: 'integer', minimum: 0 }}
        value={draft.wakeAboveBlobsPerHour}
        set={(blobs) => set({ wakeAboveBlobsPerHour: blobs ?? -1 })}
      />
      <fieldset class="ticks wide" id="contact-channelIds" tabIndex={-1}>
        <legend>Over</legend>
        {view.channels.length === 0 && <p class="quiet">There is no channel yet: add one below, or a phone above.</p>}
        {view.channels.map((channel) => (
          <label key={channel.id}>
            <input
              type="checkbox"
              checked={draft.channelIds.includes(channel.id)}
              onChange={() => toggle(channel.id)}
            />
            {channel.name}
          </label>
        ))}
        {faults.channelIds && <span class="fault">{faults.channelIds}</span>}
      </fieldset>
      <fieldset class="ticks wide" id="contact-quiet" tabIndex={-1}>
        <legend>Quiet hours</legend>
        <label>
          <input
            type="checkbox"
            checked={draft.quiet !== null}
            onChange={() => set({ quiet: draft.quiet === null ? NEW_CONTACT.quiet : null })}
          />
          only what is worth getting up for
        </label>
        {draft.quiet !== null && (
          <span class="hours">
            <label>
              from{' '}
              <input
                type="time"
                value={draft.quiet.from}
                onInput={(event) => set({ quiet: { to: draft.quiet?.to ?? '', from: event.currentTarget.value } })}
              />
            </label>{' '}
            <label>
              to{' '}
              <input
                type="time"
                value={draft.quiet.to}
                onInput={(event) => set({ quiet: { from: draft.quiet?.from ?? '', to: event.currentTarget.value } })}
              />
            </label>{' '}
            <span class="fine">{serviceClockText(Date.now())}</span>
          </span>
        )}
        {faults.quiet && <span class="fault">{faults.quiet}</span>}
      </fieldset>
      <fieldset class="ticks wide">
        <legend>Also</legend>
        <label>
          <input
            type="checkbox"
            checked={draft.tellWhenReady}
            onChange={() => set({ tellWhenReady: !draft.tellWhenReady })}
          />
          when the strand is ready to wind
        </label>
      </fieldset>
      {problem && <ProblemNote problem={problem} />}
      <p class="actions">
        <button type="submit" class="main">
          {contact ? 'Save' : 'Add'}
        </button>
        <button type="button" class="plain" onClick={close}>
          Cancel
        </button>
      </p>
    </form>
  );
}
