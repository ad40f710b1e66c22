import { Type } from 'typebox';
import { DEFAULT_RULES } from '../../calling/calling-rules.ts';
import { Problem } from '../../problem/problem.ts';
import { ProblemView } from '../contract.ts';
import {
  ChannelInput,
  ChannelView,
  ContactInput,
  ContactView,
  DrillView,
  PeopleView,
  QuestionView,
  RulesInput,
  RulesView,
} from '../people-contract.ts';
import { channelView, drillView, peopleView, questionView, rulesView } from '../people-views.ts';
import { type Api, By, DEFAULT_WHO, IdParam, type RouteContext } from './context.ts';

/** How people are reached: channels, people, rules, drills. */
export function peopleRoutes(api: Api, context: RouteContext): void {
  const { people } = context;
  const tags = ['people'];
  const channelNow = (id: number) => channelView(people.overview().channels.find(({ channel }) => channel.id === id)!);

  api.get(
    '/api/people',
    {
      schema: {
        tags,
        summary: 'People, the channels to them and how they work, rules, drills, messages that reached nobody',
        response: { 200: PeopleView, default: ProblemView },
      },
    },
    () => peopleView(people.overview()),
  );

  api.post(
    '/api/channels',
    {
      schema: {
        tags,
        summary: 'Add a channel',
        body: ChannelInput,
        response: { 201: ChannelView, default: ProblemView },
      },
    },
    async (request, reply) => {
      const { id } = await people.addChannel(request.body, DEFAULT_WHO);
      reply.code(201);
      return channelNow(id);
    },
  );

  api.put(
    '/api/channels/:id',
    {
      schema: {
        tags,
        summary: 'Change a channel; secrets given as empty text stay as they are',
        params: IdParam,
        body: ChannelInput,
        response: { 200: ChannelView, default: ProblemView },
      },
    },
    async (request) => {
      await people.changeChannel({ ...request.body, id: request.params.id }, DEFAULT_WHO);
      return channelNow(request.params.id);
    },
  );

  api.delete(
    '/api/channels/:id',
    {
      schema: {
        tags,
        summary: 'Remove a channel; nobody is told over it any more',
        params: IdParam,
        response: { 204: Type.Null(), default: ProblemView },
      },
    },
    async (request, reply) => {
      await people.removeChannel(request.params.id, DEFAULT_WHO);
      reply.code(204);
      return null;
    },
  );

  api.post(
    '/api/channels/test',
    {
      schema: {
        tags,
        summary: 'Send a test over a channel as given, saved or not, and tell at once what became of it',
        body: Type.Object(
          { ...ChannelInput.properties, id: Type.Union([Type.Integer({ minimum: 1 }), Type.Null()]) },
          { additionalProperties: false },
        ),
        response: { 204: Type.Null(), default: ProblemView },
      },
    },
    async (request, reply) => {
      const { id, name, settings } = request.body;
      await people.tryChannel(id, name, settings);
      reply.code(204);
      return null;
    },
  );

  api.post(
    '/api/people',
    {
      schema: {
        tags,
        summary: 'Add a person, or a group that shares a channel',
        body: ContactInput,
        response: { 201: ContactView, default: ProblemView },
      },
    },
    (request, reply) => {
      const added = people.addContact(request.body, DEFAULT_WHO);
      reply.code(201);
      return { ...added, channelIds: [...added.channelIds] };
    },
  );

  api.put(
    '/api/people/:id',
    {
      schema: {
        tags,
        summary: 'Change how somebody is told',
        params: IdParam,
        body: ContactInput,
        response: { 200: ContactView, default: ProblemView },
      },
    },
    (request) => {
      const changed = people.changeContact({ ...request.body, id: request.params.id }, DEFAULT_WHO);
      return { ...changed, channelIds: [...changed.channelIds] };
    },
  );

  api.delete(
    '/api/people/:id',
    {
      schema: {
        tags,
        summary: 'Tell somebody no more',
        params: IdParam,
        response: { 204: Type.Null(), default: ProblemView },
      },
    },
    (request, reply) => {
      people.removeContact(request.params.id, DEFAULT_WHO);
      reply.code(204);
      return null;
    },
  );

  api.put(
    '/api/calling-rules',
    {
      schema: {
        tags,
        summary: 'Change reminders, rounds, drills and heartbeat',
        body: RulesInput,
        response: { 200: RulesView, default: ProblemView },
      },
    },
    (request) => {
      const { rules } = people.overview();
      const heartbeatAddress = request.body.heartbeatAddress ?? rules.heartbeatAddress;
      return rulesView(people.changeRules({ ...DEFAULT_RULES, ...request.body, heartbeatAddress }, DEFAULT_WHO));
    },
  );

  api.delete(
    '/api/dead-letters',
    {
      schema: {
        tags,
        summary: 'The messages that reached nobody have been read',
        response: { 204: Type.Null(), default: ProblemView },
      },
    },
    (_request, reply) => {
      people.forgetDead(DEFAULT_WHO);
      reply.code(204);
      return null;
    },
  );

  api.post(
    '/api/drills',
    {
      schema: {
        tags,
        summary: 'Begin an alarm drill: a test alarm to everybody on the real way',
        body: Type.Optional(Type.Union([Type.Object({ by: By }, { additionalProperties: false }), Type.Null()])),
        response: { 201: DrillView, default: ProblemView },
      },
    },
    (request, reply) => {
      const { id } = people.startDrill(request.body?.by ?? DEFAULT_WHO);
      reply.code(201);
      return drillView(people.overview().drills.find(({ drill }) => drill.id === id)!);
    },
  );

  api.post(
    '/api/drills/:id/confirm',
    {
      schema: {
        tags,
        summary: 'The drill reached this person',
        params: IdParam,
        body: Type.Object({ contactId: Type.Integer({ minimum: 1 }) }, { additionalProperties: false }),
        response: { 204: Type.Null(), default: ProblemView },
      },
    },
    (request, reply) => {
      people.confirmDrill(request.params.id, request.body.contactId);
      reply.code(204);
      return null;
    },
  );

  const TokenParam = Type.Object({ token: Type.String({ maxLength: 1000 }) });
  const Answer = Type.Object(
    {
      seenOccurrences: Type.Union([Type.Integer({ minimum: 0 }), Type.Null()], {
        description: 'As the person saw it: refused if the alarm happened again since',
      }),
    },
    { additionalProperties: false },
  );
  const answers = { tags, params: TokenParam, response: { 200: QuestionView, default: ProblemView } };
  // The token is the key: it opens this one answer. To look at it answers nothing, for chat services look at every link.
  api.get(KEYLESS_ROUTE, { schema: { ...answers, summary: 'What the link of a message asks' } }, (request) =>
    questionView(people.question(request.params.token)),
  );
  api.get(
    PICTURE_ROUTE,
    {
      schema: {
        tags,
        params: TokenParam,
        summary: 'The strand that it asks about, with its limits, as PNG',
        response: { 200: Type.Unsafe<Buffer>({ type: 'string', format: 'binary' }), default: ProblemView },
      },
    },
    async (request, reply) => {
      const picture = await people.picture(request.params.token);
      if (picture === null) {
        throw new Problem('not-found', 'There is no picture of this.', 'Open the spool’s page to see the strand.');
      }
      return reply.type('image/png').send(picture.png);
    },
  );
  api.post(
    KEYLESS_ROUTE,
    {
      schema: {
        ...answers,
        summary: 'Answer it: acknowledge the alarm, or confirm the drill; what is not open stays as it is',
        body: Type.Optional(Type.Union([Answer, Type.Null()])),
      },
    },
    (request) => questionView(people.answer(request.params.token, request.body?.seenOccurrences ?? null)),
  );
}

const KEYLESS_ROUTE = '/api/answers/:token';
const PICTURE_ROUTE = `${KEYLESS_ROUTE}/picture` as const;
/** Open without the access key. */
export const KEYLESS_ROUTES: readonly string[] = [KEYLESS_ROUTE, PICTURE_ROUTE];
