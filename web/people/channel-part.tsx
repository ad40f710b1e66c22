import { useState } from 'preact/hooks';
import type { ChannelView } from '../../server/api/contract/channels.ts';
import type { PeopleView } from '../../server/api/contract/people.ts';
import { nowMs } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { draftOf, type Kind } from './channel-draft.ts';
import { ChannelForm } from './channel-form.tsx';
import { removeChannel, testChannel } from './people-store.ts';
import { KIND_TEXT, stateText } from './people-text.ts';
import { UnreadableItem, unreadable } from './unreadable-item.tsx';

type Open = { readonly id: number } | { readonly add: Kind } | null;

const ADDED = { email: 'an e-mail', webhook: 'a chat or webhook', mqtt: 'an MQTT broker' } as const;
const SHAPES = { working: 'calm', failing: 'danger', untried: 'notice' } as const;

/** The channels: whether each works, and a button to test it. */
export function ChannelPart({ view }: { view: PeopleView }) {
  const [open, setOpen] = useState<Open>(null);
  const [busy, setBusy] = useState<number | null>(null);
  const [problem, setProblem] = useState<{ at: number; problem: ServiceProblem } | null>(null);
  const run = async (at: number, act: () => Promise<void>) => {
    setBusy(at);
    setProblem(null);
    try {
      await act();
    } catch (thrown) {
      setProblem({ at, problem: asProblem(thrown) });
    }
    setBusy(null);
  };
  const test = (channel: ChannelView) =>
    run(channel.id, async () => {
      const { settings } = draftOf(channel.kind, channel);
      await testChannel(channel.id, { name: channel.name, settings });
      showNotice({ text: `${channel.name} accepted the test. Check that it has arrived.` });
    });
  return (
    <section class="part" aria-labelledby="channels-title">
      <div class="part-intro">
        <h2 id="channels-title">How</h2>
        <p>
          How messages reach people. A phone is added above. E-mail and chat also work on phones for which notifications
          are not possible.
        </p>
      </div>
      <div>
        <ul class="channels">
          {view.channels.map((channel) => (
            <li key={channel.id} data-testid="channel" data-phase={channel.phase}>
              {open !== null && 'id' in open && open.id === channel.id ? (
                <ChannelForm kind={channel.kind} channel={channel} close={() => setOpen(null)} />
              ) : (
                <>
                  <Shape of={SHAPES[channel.phase]} size={20} />
                  <div class="channel-text">
                    <p>
                      <strong>{channel.name}</strong>{' '}
                      <span class="quiet">
                        {KIND_TEXT[channel.kind]} to {channel.destination}
                      </span>
                    </p>
                    <p class={channel.phase === 'failing' ? 'failing' : 'quiet'}>{stateText(channel, nowMs.value)}</p>
                    {problem?.at === channel.id && <ProblemNote problem={problem.problem} />}
                  </div>
                  <p class="row-actions">
                    <button type="button" disabled={busy !== null} onClick={() => test(channel)}>
                      {busy === channel.id ? 'Sending …' : 'Send a test'}
                      <span class="visually-hidden"> over {channel.name}</span>
                    </button>
                    {channel.kind !== 'push' && (
                      <button
                        type="button"
                        class="plain"
                        aria-label={`Change ${channel.name}`}
                        onClick={() => setOpen({ id: channel.id })}
                      >
                        Change
                      </button>
                    )}
                    <button
                      type="button"
                      class="plain"
                      aria-label={`Remove ${channel.name}`}
                      onClick={() =>
                        run(channel.id, async () => {
                          await removeChannel(channel.id);
                          showNotice({ text: `${channel.name} removed.` });
                        })
                      }
                    >
                      Remove
                    </button>
                  </p>
                </>
              )}
            </li>
          ))}
          {unreadable(view, 'channel').map(({ id, name }) => (
            <UnreadableItem
              key={`unreadable-${id}`}
              name={name ?? 'A channel'}
              remove={() => run(id, () => removeChannel(id))}
            />
          ))}
        </ul>
        {open !== null && 'add' in open ? (
          <ChannelForm kind={open.add} channel={null} close={() => setOpen(null)} />
        ) : (
          <p class="actions">
            {(['email', 'webhook', 'mqtt'] as const).map((kind) => (
              <button key={kind} type="button" onClick={() => setOpen({ add: kind })}>
                Add {ADDED[kind]}
              </button>
            ))}
          </p>
        )}
      </div>
    </section>
  );
}
