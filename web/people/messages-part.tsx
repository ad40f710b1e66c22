import type { MessageView, PeopleView } from '../../server/api/contract/people.ts';
import { clockWithSeconds, shortDay } from '../format/times.ts';
import { Shape } from '../shell/shape.tsx';
import { discardFailed } from './people-store.ts';
import { channelName, MESSAGE_STATE_TEXT } from './people-text.ts';

/** Messages that were not delivered, and recent messages. */
export function MessagesPart({ view }: { view: PeopleView }) {
  const { failedMessages, recent } = view;
  if (recent.length === 0 && failedMessages.length === 0) return null;
  return (
    <section class="part" aria-labelledby="messages-title">
      <div class="part-intro">
        <h2 id="messages-title">Messages</h2>
        <p>Each is retried, less and less often, until it is delivered, acknowledged, or too old to be of use.</p>
      </div>
      <div>
        {failedMessages.length > 0 && (
          <>
            <h3>Not delivered to anyone</h3>
            <MessageList view={view} messages={failedMessages} />
            <p class="actions">
              <button type="button" onClick={() => discardFailed()}>
                Dismiss
              </button>
            </p>
          </>
        )}
        {recent.length > 0 && (
          <details open={failedMessages.length === 0 && recent.length < 6}>
            <summary>The last {recent.length}</summary>
            <MessageList view={view} messages={recent} />
          </details>
        )}
      </div>
    </section>
  );
}

function MessageList({ view, messages }: { view: PeopleView; messages: readonly MessageView[] }) {
  return (
    <ul class="messages">
      {messages.map((message) => (
        <li key={message.seq}>
          <Shape of={MESSAGE_SHAPES[message.state]} size={16} />
          <p>
            <strong>{message.title}</strong> to {message.to} by {channelName(view, message.channelId)}
            <span class="fine">
              {MESSAGE_STATE_TEXT[message.state]}
              {message.attempts > 1 && `, attempt ${message.attempts}`}
              {message.reason === '' ? '.' : `. ${message.reason}`}
            </span>
          </p>
          <time class="quiet">
            {shortDay(message.createdMs)} {clockWithSeconds(message.createdMs)}
          </time>
        </li>
      ))}
    </ul>
  );
}

const MESSAGE_SHAPES = {
  waiting: 'notice',
  delivered: 'calm',
  expired: 'abnormal',
  refused: 'abnormal',
  withdrawn: 'calm',
} as const;
