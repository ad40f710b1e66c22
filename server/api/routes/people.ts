import { DEFAULT_RULES } from '../../escalation/escalation-rules.ts';
import type { PeopleService } from '../../escalation/people-service.ts';
import { Problem } from '../../problem/problem.ts';
import { channelView, drillView, peopleView, questionView, rulesView } from '../people-views.ts';
import { type Api, serve } from '../serve.ts';

/** Channels, people, notification rules, alarm tests, and answers to messages. */
export function peopleRoutes(api: Api, people: PeopleService): void {
  const channelNow = (id: number) => {
    const found = people.overview().channels.find(({ channel }) => channel.id === id);
    if (found === undefined)
      throw new Problem('unknown-channel', `There is no channel ${id}.`, 'Load the channels again.');
    return channelView(found);
  };

  serve(api, 'GET /api/people', () => peopleView(people.overview()));

  serve(api, 'POST /api/channels', async ({ body, by }) => channelNow((await people.addChannel(body, by)).id));

  serve(api, 'PUT /api/channels/:id', async ({ params, body, by }) => {
    await people.changeChannel({ ...body, id: params.id }, by);
    return channelNow(params.id);
  });

  serve(api, 'DELETE /api/channels/:id', ({ params, by }) => people.removeChannel(params.id, by));

  serve(api, 'POST /api/channels/test', ({ body }) => people.tryChannel(body.id, body.name, body.settings));

  serve(api, 'POST /api/people', ({ body, by }) => people.addContact(body, by));

  serve(api, 'PUT /api/people/:id', ({ params, body, by }) => people.changeContact({ ...body, id: params.id }, by));

  serve(api, 'DELETE /api/people/:id', ({ params, by }) => people.removeContact(params.id, by));

  serve(api, 'PUT /api/escalation-rules', ({ body, by }) => {
    const heartbeatAddress = body.heartbeatAddress ?? people.overview().rules.heartbeatAddress;
    return rulesView(people.changeRules({ ...DEFAULT_RULES, ...body, heartbeatAddress }, by));
  });

  serve(api, 'DELETE /api/failed-messages', ({ by }) => people.forgetDead(by));

  const drillNow = (id: number) => {
    const found = people.overview().drills.find(({ drill }) => drill.id === id);
    if (found === undefined)
      throw new Problem('unknown-drill', `There is no alarm test ${id}.`, 'Load the alarm tests again.');
    return drillView(found);
  };

  serve(api, 'POST /api/drills', ({ by }) => drillNow(people.startDrill(by).id));

  serve(api, 'POST /api/phones', async ({ body, by, access }) => {
    const deviceId = access.credential?.kind === 'device' ? access.credential.id : null;
    return drillNow((await people.addPhone({ ...body, deviceId }, by)).id);
  });

  serve(api, 'POST /api/drills/:id/confirm', ({ params, body }) => {
    people.confirmDrill(params.id, body.contactId);
  });

  serve(api, 'GET /api/answers/:token', ({ params }) => questionView(people.question(params.token)));

  serve(api, 'GET /api/answers/:token/picture', async ({ params }, reply) => {
    const picture = await people.picture(params.token);
    if (picture === null) {
      throw new Problem('not-found', 'There is no picture of this.', 'Open the spool’s page to see the strand.');
    }
    reply.type('image/png');
    return picture.png;
  });

  serve(api, 'POST /api/answers/:token', ({ params, body }) =>
    questionView(people.answer(params.token, body?.seenOccurrences ?? null)),
  );
}
