import { VERSION } from '../version.ts';
import { BROKER_TOPICS } from './contract/broker.ts';
import { Components } from './open-api.ts';

/** The AsyncAPI 3.0 document of what a line publishes on an MQTT broker. */
export function brokerDocument(): object {
  const components = new Components();
  const messages = Object.fromEntries(
    BROKER_TOPICS.map(({ name, summary, schema }) => [
      name,
      { summary, contentType: 'application/json', payload: components.refer(schema) },
    ]),
  );
  return {
    asyncapi: '3.0.0',
    info: {
      title: 'Strandward on an MQTT broker',
      version: VERSION,
      description:
        'Lengths are in mm, times in UTC ms and temperatures in °C, unless a name states otherwise. Everything is sent with QoS 1, so a copy may come: alarms, spools and messages have a key that is the same for all copies. Strandward subscribes to nothing.',
      license: { name: 'MIT' },
    },
    defaultContentType: 'application/json',
    channels: Object.fromEntries(
      BROKER_TOPICS.map(({ name, summary }) => [
        name,
        {
          address: `{baseTopic}/${name}`,
          summary,
          parameters: { baseTopic: { description: 'The base topic of the channel, one for each line' } },
          messages: { [name]: { $ref: `#/components/messages/${name}` } },
        },
      ]),
    ),
    operations: Object.fromEntries(
      BROKER_TOPICS.map(({ name, retained }) => [
        `publish-${name}`,
        {
          action: 'send',
          channel: { $ref: `#/channels/${name}` },
          messages: [{ $ref: `#/channels/${name}/messages/${name}` }],
          bindings: { mqtt: { qos: 1, retain: retained } },
        },
      ]),
    ),
    components: { messages, schemas: Object.fromEntries(components.schemas) },
  };
}
