import { useState } from 'preact/hooks';
import type { ChannelInput, ChannelView } from '../../server/api/contract/channels.ts';
import { PLACEHOLDERS } from '../../server/escalation/template.ts';
import { ChoiceField } from '../form/field.tsx';
import { FileButton } from '../form/file-button.tsx';
import { NumberField } from '../form/number-field.tsx';
import { TextField } from '../form/text-field.tsx';
import { useFaults } from '../form/use-faults.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { draftOf, type Kind } from './channel-draft.ts';
import { saveChannel, testChannel } from './people-store.ts';
import { presetOf, WEBHOOK_PRESETS } from './webhook-presets.ts';

interface Props {
  readonly kind: Kind;
  /** null = a new one. */
  readonly channel: ChannelView | null;
  readonly close: () => void;
}

const CERTIFICATE_HINT = 'Only for your own server with a self-signed certificate: paste the certificate here (PEM).';

/** Adds or changes a channel. A test shows at once whether it works. */
export function ChannelForm({ kind, channel, close }: Props) {
  const [draft, setDraft] = useState<ChannelInput>(() => draftOf(kind, channel));
  const [busy, setBusy] = useState<'test' | 'save' | null>(null);
  const [tested, setTested] = useState(false);
  const { settings } = draft;
  const fields = ['name', ...Object.keys(settings).filter((name) => name !== 'kind')];
  const { faults, problem, showThrown, clear, clearAll } = useFaults<string>(fields, (name) => `channel-${name}`);
  const set = (name: string, value: string | number) => {
    clear(name);
    setTested(false);
    setDraft({ ...draft, settings: { ...settings, [name]: value } as ChannelInput['settings'] });
  };
  const run = async (what: 'test' | 'save', act: () => Promise<void>) => {
    setBusy(what);
    clearAll();
    try {
      await act();
    } catch (thrown) {
      showThrown(thrown);
    }
    setBusy(null);
  };
  const takeFile = (name: string, file: File) => {
    // Larger than any certificate: then it is another file, and the service says so.
    void file
      .slice(0, 20_000)
      .text()
      .then((pem) => set(name, pem));
  };
  const keep = (name: string) => (channel?.savedSecrets.includes(name) ? 'saved; leave empty to keep it' : '');
  const text = (
    name: string,
    label: string,
    hint: string,
    more: { type?: 'password'; lines?: number; raw?: boolean } = {},
  ) => (
    <TextField
      id={`channel-${name}`}
      label={label}
      hint={hint}
      value={String((settings as Record<string, unknown>)[name] ?? '')}
      placeholder={keep(name)}
      fault={faults[name]}
      set={(value) => set(name, value)}
      {...more}
    />
  );
  return (
    <form
      class="form"
      aria-label={channel ? `Change ${channel.name}` : 'Add a channel'}
      onSubmit={(event) => {
        event.preventDefault();
        void run('save', async () => {
          await saveChannel(channel?.id ?? null, draft);
          showNotice({ text: channel ? `${draft.name} changed.` : `${draft.name} added.` });
          close();
        });
      }}
    >
      <TextField
        id="channel-name"
        label="Name"
        hint="A name that you recognise."
        value={draft.name}
        fault={faults.name}
        set={(name) => {
          clear('name');
          setDraft({ ...draft, name });
        }}
      />
      {settings.kind === 'webhook' && (
        <>
          {text('url', 'Address', 'Messages are sent there by POST. Once saved, the address is not shown again.')}
          <ChoiceField
            id="channel-preset"
            label="Receiver"
            hint="Fills in the template. The chat’s manual says what it accepts."
            value={presetOf(settings.template) ?? 'own'}
            choices={[
              ...WEBHOOK_PRESETS.map(({ name, label }) => [name, label] as const),
              ...(presetOf(settings.template) === null ? [['own', 'Own template'] as const] : []),
            ]}
            set={(name) =>
              set('template', WEBHOOK_PRESETS.find((one) => one.name === name)?.template ?? settings.template)
            }
          />
          {text('secret', 'Signing key', 'For your own receiver; chat services need none.', {
            type: 'password',
          })}
          <div class="wide">
            {text(
              'template',
              'Template',
              `For chat services: JSON with ${Object.keys(PLACEHOLDERS)
                .slice(0, 3)
                .map((name) => `{{${name}}}`)
                .join(
                  ', ',
                )} and similar placeholders in its texts, such as {"text": "{{title}}: {{text}} {{caution}}"}. Empty: the whole message as JSON.`,
              { lines: 3, raw: true },
            )}
          </div>
          <details class="wide">
            <summary>Placeholders of a template</summary>
            <dl class="placeholders">
              {Object.entries(PLACEHOLDERS).map(([name, text]) => (
                <div key={name}>
                  <dt class="raw">{`{{${name}}}`}</dt>
                  <dd>{text}</dd>
                </div>
              ))}
            </dl>
          </details>
        </>
      )}
      {settings.kind === 'email' && (
        <>
          {text('to', 'To', 'Separate several with commas.')}
          {text('from', 'From', 'The address of the sending account.')}
          {text('host', 'Mail server', 'Such as smtp.example.org')}
          <ChoiceField
            id="channel-security"
            label="Security"
            fault={faults.security}
            value={settings.security}
            choices={[
              ['starttls', 'STARTTLS, mostly port 587'],
              ['tls', 'TLS, mostly port 465'],
              ['none', 'none, and no password'],
            ]}
            set={(security) => {
              const port = security === 'tls' ? 465 : security === 'starttls' ? 587 : 25;
              setDraft({ ...draft, settings: { ...settings, security, port } });
            }}
          />
          <NumberField
            id="channel-port"
            label="Port"
            fault={faults.port}
            bounds={{ type: 'integer', minimum: 1, maximum: 65535 }}
            value={settings.port || null}
            set={(port) => set('port', port ?? 0)}
          />
          {text('user', 'User name', 'Often the e-mail address.')}
          {text('password', 'Password', 'Many providers require a separate app password.', { type: 'password' })}
          <details class="wide">
            <summary>Your own server</summary>
            {text('certificate', 'Certificate', CERTIFICATE_HINT, { lines: 4, raw: true })}
          </details>
        </>
      )}
      {settings.kind === 'mqtt' && (
        <>
          {text('address', 'Broker', 'Such as mqtt://192.0.2.7:1883, or mqtts:// with TLS.')}
          {text(
            'baseTopic',
            'Base topic',
            'One for each line. Below it: availability, state, alarms, spools and messages.',
          )}
          {text('user', 'User name', 'Empty if the broker needs none.')}
          {text('password', 'Password', '', { type: 'password' })}
          <details class="wide">
            <summary>Certificates</summary>
            {text('certificate', 'Certificate of the broker', CERTIFICATE_HINT, { lines: 4, raw: true })}
            {text(
              'clientCertificate',
              'Client certificate',
              'If the broker knows this line by a certificate instead of a password: paste it here (PEM), or choose its file.',
              { lines: 4, raw: true },
            )}
            <FileButton
              text="Choose its file"
              testId="client-certificate-file"
              chosen={(file) => takeFile('clientCertificate', file)}
            />
            {text('clientKey', 'Its key', 'Without a passphrase. Once saved, it is not shown again.', {
              lines: 4,
              raw: true,
            })}
            <FileButton
              text="Choose its file"
              testId="client-key-file"
              chosen={(file) => takeFile('clientKey', file)}
            />
          </details>
        </>
      )}
      {problem && <ProblemNote problem={problem} />}
      {tested && (
        <p class="tested" role="status">
          The receiver accepted the test. Check that it has arrived.
        </p>
      )}
      <p class="actions">
        <button type="submit" class="main" disabled={busy !== null}>
          {channel ? 'Save' : 'Add the channel'}
        </button>
        <button
          type="button"
          disabled={busy !== null}
          onClick={() =>
            run('test', async () => {
              setTested(false);
              await testChannel(channel?.id ?? null, { ...draft, name: draft.name.trim() || 'new channel' });
              setTested(true);
            })
          }
        >
          {busy === 'test' ? 'Sending …' : 'Send a test'}
        </button>
        <button type="button" class="plain" onClick={close}>
          Cancel
        </button>
      </p>
    </form>
  );
}
