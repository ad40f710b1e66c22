import { promisify } from 'node:util';
import { gzip } from 'node:zlib';
import helmet from '@fastify/helmet';
import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox';
import websocket from '@fastify/websocket';
import { Ajv } from 'ajv';
import fastify, { type FastifyBaseLogger, LogController } from 'fastify';
import type { ServerCertificate } from '../certificate/server-certificate.ts';
import type { PeopleService } from '../escalation/people-service.ts';
import type { OtherLines } from '../front/other-lines.ts';
import type { BinService } from '../monitor/bin-service.ts';
import type { LineMonitor } from '../monitor/line-monitor.ts';
import type { SampleReader } from '../monitor/ports/samples.ts';
import type { PrinterService } from '../monitor/printer-service.ts';
import type { StockService } from '../monitor/stock/stock-service.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import { isLoopback } from '../settings/startup-settings.ts';
import { checkAccess, isDirectFromHere, mayWatch } from './access.ts';
import { arrivingBody, dropRest } from './arriving-body.ts';
import { brokerDocument } from './broker-document.ts';
import { limitConnections } from './connection-limit.ts';
import { CONTRACT } from './contract/index.ts';
import { secureAddress } from './https-only.ts';
import { ISOLATION, PERMISSIONS_POLICY, REFUSAL_HEADERS } from './isolation.ts';
import { readJsonBodies } from './json-body.ts';
import { LiveFeed } from './live-feed.ts';
import { liveView } from './live-view.ts';
import { lookAhead } from './look-ahead.ts';
import { OpenAnswers } from './open-answers.ts';
import { openApiDocument } from './open-api.ts';
import { servePage } from './page.ts';
import { hasBody, replyWithProblem } from './problem-reply.ts';
import {
  nothingAt,
  refuseConnection,
  refuseExpectation,
  refuseWebSocket,
  requireHost,
  requireKnownType,
  requirePlain,
} from './refused-request.ts';
import { RequestLimit } from './request-limit.ts';
import { pathAndQueryOf } from './request-target.ts';
import { type AlarmJournalParts, alarmJournalRoutes } from './routes/alarm-journal.ts';
import { type AlarmParts, alarmRoutes } from './routes/alarms.ts';
import { binRoutes } from './routes/bin.ts';
import { certificateRoutes } from './routes/certificate.ts';
import { type ComparisonParts, comparisonRoutes } from './routes/comparison.ts';
import { type CutPlanParts, cutPlanRoutes } from './routes/cut-plan.ts';
import { type DeviceParts, deviceRoutes } from './routes/devices.ts';
import { type ExportParts, exportRoutes } from './routes/export.ts';
import { incomingRoutes } from './routes/incoming.ts';
import { type JudgementParts, judgementRoutes } from './routes/judgement.ts';
import { type LabelParts, labelRoutes } from './routes/labels.ts';
import { linesRoutes } from './routes/lines.ts';
import { liveRoutes } from './routes/live.ts';
import { type MaintenanceParts, maintenanceRoutes } from './routes/maintenance.ts';
import { metricsRoutes } from './routes/metrics.ts';
import { type NightParts, nightRoutes } from './routes/nights.ts';
import { peopleRoutes } from './routes/people.ts';
import { printerRoutes } from './routes/printers.ts';
import { type RecordingParts, recordingRoutes } from './routes/recording.ts';
import { type RunParts, runRoutes } from './routes/runs.ts';
import { type SetUpParts, setUpRoutes } from './routes/set-up.ts';
import { type SpoolParts, spoolRoutes } from './routes/spools.ts';
import { stockRoutes } from './routes/stock.ts';
import { checkOnDemand, SCHEMA_CHECKS, writeOnDemand } from './schemas-on-demand.ts';
import { NODE_OPTIONS, securePort } from './secure-port.ts';
import { rightOf } from './serve.ts';
import { sessionCookie, sessionSecretOf } from './session-cookie.ts';
import { TooManyRequests } from './too-many-requests.ts';

/** What the live page and its feed are made from. */
interface LiveSource {
  readonly monitor: LineMonitor;
  readonly samples: SampleReader;
  /** Differs after each start of the service. */
  readonly boot: string;
  /** What is wrong with notifications, a sentence each. */
  troubles(): readonly string[];
}

/** A group of parts for each file of routes. */
export interface ApiOptions {
  readonly live: LiveSource;
  /** Other lines of the house. */
  readonly others: OtherLines;
  readonly alarms: AlarmParts;
  readonly alarmJournal: AlarmJournalParts;
  readonly runs: RunParts;
  readonly nights: Omit<NightParts, 'others' | 'name'>;
  readonly spools: SpoolParts;
  readonly printers: PrinterService;
  readonly people: PeopleService;
  readonly judgement: JudgementParts;
  readonly comparison: Omit<ComparisonParts, 'others' | 'name'>;
  readonly cutPlan: CutPlanParts;
  readonly labels: Omit<LabelParts, 'servesBoth'>;
  readonly stock: StockService;
  readonly exports: ExportParts;
  readonly setUp: SetUpParts;
  readonly bin: BinService;
  readonly maintenance: MaintenanceParts;
  readonly recording: RecordingParts;
  readonly devices: DeviceParts;
  /** null = HTTP only. */
  readonly certificate: ServerCertificate | null;
  /** Addresses or networks of proxies whose forwarding headers are believed. */
  readonly trustedProxies: readonly string[];
  readonly host: string;
  readonly port: number;
  /** Folder of the built page. */
  readonly pageFolder: string;
  /** IANA name. */
  readonly timeZone: string;
  readonly logger: FastifyBaseLogger;
}

export interface ApiServer {
  /** The URL that it listens on, such as http://127.0.0.1:8750 */
  readonly address: string;
  stop(): Promise<void>;
}

// verbose: errors include the value and its schema, so that the reply can explain what to do.
const CHECKS = { ...SCHEMA_CHECKS, useDefaults: true, verbose: true } as const;
const BODY_BYTES_MAX = 256 * 1024;
/** From one address. These routes need no right. */
const ANSWER_REQUESTS_A_MINUTE = 60;
const OPEN_BY_LINK = /^\/api\/(?:answers\/|labels\/:code$)/;
/** From one address, which may be that of a proxy in front of many pages. This machine itself has no limit. */
const REQUESTS_A_MINUTE = 6000;
/** A connection on which nothing moves for so long is closed. The longest work without a byte is importing a large archive. */
const IDLE_MS_MAX = 10 * 60_000;
const CLIENT_MESSAGE_BYTES_MAX = 1024;
const SOCKET_PATH = /^\/live(?:\/lines)?$/;

/** A shorter answer is not sent any sooner if it is compressed. */
const ONE_PACKET_BYTES = 1400;
const gzipped = promisify(gzip);

/**
 * Starts HTTP and WebSocket.
 * @throws Problem `port-in-use` if the address is not available
 */
export async function startApi(options: ApiOptions): Promise<ApiServer> {
  const { identity, guesses } = options.devices;
  const { monitor, samples, boot, troubles } = options.live;
  const state = () => liveView(monitor, boot, troubles());
  const limit = new RequestLimit(REQUESTS_A_MINUTE, () => performance.now());
  const answerLimit = new RequestLimit(ANSWER_REQUESTS_A_MINUTE, () => performance.now());
  const answers = new OpenAnswers();
  const feedFailed = (thrown: unknown) => options.logger.error({ err: thrown }, 'The live page cannot be updated');
  const feed = new LiveFeed({
    state,
    runId: () => monitor.snapshot().run?.id ?? null,
    failed: feedFailed,
  });

  const { certificate } = options;
  const secure = certificate === null ? null : securePort(certificate.current());
  certificate?.onChange((successor) => secure?.use(successor));
  const api = fastify({
    ...(secure === null ? { http: NODE_OPTIONS } : { serverFactory: secure.serverFor }),
    ...(options.trustedProxies.length === 0 ? {} : { trustProxy: [...options.trustedProxies] }),
    loggerInstance: options.logger,
    // Pages send several requests a second, so only errors are logged.
    logController: new LogController({ disableRequestLogging: true }),
    bodyLimit: BODY_BYTES_MAX,
    connectionTimeout: IDLE_MS_MAX,
    // An address that cannot be decoded, which the router refuses before any route.
    frameworkErrors: (error, request, reply) => replyWithProblem(error, request, reply.headers(REFUSAL_HEADERS)),
    rewriteUrl: pathAndQueryOf,
    clientErrorHandler: refuseConnection,
    forceCloseConnections: true,
  }).withTypeProvider<TypeBoxTypeProvider>();
  limitConnections(api.server, (address, open) =>
    options.logger.warn({ address, open }, 'Too many connections are open: further ones are closed'),
  );
  api.server.on('checkExpectation', refuseExpectation);
  api.setErrorHandler(replyWithProblem);
  readJsonBodies(api);
  // Numbers in an address are text and must be converted. A body is not: null there must not become 0.
  const checks = { address: new Ajv({ ...CHECKS, coerceTypes: 'array' }), body: new Ajv(CHECKS) };
  api.setValidatorCompiler(({ schema, httpPart }) =>
    httpPart === 'body'
      ? checkOnDemand(checks.body, schema as object)
      : checkOnDemand(checks.address, schema as object, true),
  );

  api.setSerializerCompiler(({ schema }) => writeOnDemand(schema as object));

  await api.register(helmet, ISOLATION);
  api.addHook('onSend', async (request, reply, answer) => {
    reply.header('permissions-policy', PERMISSIONS_POLICY);
    // Whatever is not a file of the page is about this line and belongs in no cache.
    if (!reply.hasHeader('cache-control')) reply.header('cache-control', 'no-store');
    // Pages and JSON. What is sent as bytes is compressed where it is made, or cannot be.
    if (typeof answer !== 'string' || answer.length < ONE_PACKET_BYTES) return answer;
    reply.header('vary', 'accept-encoding');
    if (!/\bgzip\b/.test(request.headers['accept-encoding'] ?? '')) return answer;
    reply.header('content-encoding', 'gzip');
    return await gzipped(answer);
  });
  await api.register(websocket, {
    options: { maxPayload: CLIENT_MESSAGE_BYTES_MAX },
    errorHandler: (thrown, socket) => {
      // What a client sends wrongly is no fault of the service.
      if (!('code' in thrown && String(thrown.code).startsWith('WS_ERR_'))) feedFailed(thrown);
      socket.terminate();
    },
  });
  api.websocketServer.on('wsClientError', refuseWebSocket);
  // A live page first requests earlier strand, so start the reader while the page still loads.
  const warmUpReader = () => {
    const run = monitor.snapshot().run;
    if (run === null) return;
    samples.extent(run.id).catch((thrown) => options.logger.warn({ err: thrown }, 'The record cannot be read'));
  };
  api.decorateRequest('access', null);
  // The page itself needs no right, because it must be able to pair.
  api.addHook('onRequest', async (request, reply) => {
    requireHost(request, reply);
    const waitMs = isDirectFromHere(request) ? 0 : limit.count(request.ip);
    if (waitMs > 0) {
      const what = `More than ${REQUESTS_A_MINUTE} requests a minute came from this address.`;
      throw new TooManyRequests(what, waitMs, 'ask less often');
    }
    const elsewhere = secure === null ? null : secureAddress(request);
    // 308 keeps method and body.
    if (elsewhere !== null) return reply.redirect(elsewhere, 308);
    const path = request.routeOptions.url ?? request.url;
    if (path.startsWith('/api/') || /^\/live(?:\/|$)/.test(path) || path === '/metrics') {
      const needed = rightOf(request.method, path);
      request.access = checkAccess(request, needed, { identity, guesses });
      const { credential = null, byCookie = false } = request.access ?? {};
      // A device that removes itself, or changes its own right, still gets its answer. The live feed is closed separately.
      if (
        credential !== null &&
        needed !== 'none' &&
        /^(?:GET|POST)$/.test(request.method) &&
        request.headers.upgrade === undefined
      )
        answers.add(credential.id, reply.raw, needed);
      if (credential !== null && identity.seen(credential) && byCookie)
        reply.header('set-cookie', sessionCookie(request, sessionSecretOf(request.headers) ?? ''));
    }
    const linkWaitMs = OPEN_BY_LINK.test(path) && request.access === null ? answerLimit.count(request.ip) : 0;
    if (linkWaitMs > 0) {
      const what = `More than ${ANSWER_REQUESTS_A_MINUTE} requests a minute came through the links in messages and labels.`;
      throw new TooManyRequests(what, linkWaitMs, 'open the link again');
    }
    // The library would open it and close it again, with a line in the log.
    if (request.ws && !SOCKET_PATH.test(path)) {
      const asked = request.url.split('?')[0];
      throw new Problem('not-found', `There is no WebSocket at ${asked}.`, 'The live feed is at /live.');
    }
    // Before its body is read, which may be too large or of another type.
    if (request.is404 && hasBody(request)) throw nothingAt(request);
    if (path === '/' || path === '/wall') warmUpReader();
  });

  api.addHook('preParsing', async (request, _reply, body) => {
    if (!hasBody(request)) return body;
    requirePlain(request);
    requireKnownType(request);
    return arrivingBody(body);
  });
  api.addHook('onResponse', async ({ raw }) => dropRest(raw));

  let stopMetrics = () => {};
  let lines: ReturnType<typeof linesRoutes> | null = null;
  await api.register(async (scope) => {
    const typed = scope.withTypeProvider<TypeBoxTypeProvider>();
    liveRoutes(typed, { monitor, feed, state });
    const { others, people, printers } = options;
    const lineName = () => monitor.settings.lineName;
    lines = linesRoutes(typed, { monitor, others, people, printers, state, failed: feedFailed });
    stopMetrics = metricsRoutes(typed, {
      monitor,
      state,
      people: options.people,
      maintenance: options.maintenance.archives,
      standsForMs: options.setUp.standsForMs,
    });
    alarmRoutes(typed, options.alarms);
    alarmJournalRoutes(typed, options.alarmJournal);
    runRoutes(typed, options.runs);
    nightRoutes(typed, { ...options.nights, others, name: lineName });
    spoolRoutes(typed, options.spools);
    binRoutes(typed, options.bin);
    printerRoutes(typed, options.printers);
    peopleRoutes(typed, options.people);
    judgementRoutes(typed, options.judgement);
    comparisonRoutes(typed, { ...options.comparison, others, name: lineName });
    cutPlanRoutes(typed, options.cutPlan);
    labelRoutes(typed, { ...options.labels, servesBoth: certificate !== null });
    stockRoutes(typed, options.stock);
    exportRoutes(typed, options.exports);
    setUpRoutes(typed, options.setUp, (request) => mayWatch(request, { identity, guesses }));
    incomingRoutes(typed, options.setUp);
    certificateRoutes(typed, certificate?.authority ?? null);
    deviceRoutes(typed, options.devices);
    maintenanceRoutes(typed, options.maintenance);
    await scope.register(async (inner) =>
      recordingRoutes(inner.withTypeProvider<TypeBoxTypeProvider>(), options.recording),
    );
    const documents = { '/openapi.json': () => openApiDocument(CONTRACT), '/asyncapi.json': brokerDocument };
    for (const [path, make] of Object.entries(documents)) {
      let document: object | null = null;
      typed.get(path, () => {
        document ??= make();
        return document;
      });
    }
  });

  await servePage(api, {
    folder: options.pageFolder,
    timeZone: options.timeZone,
    state: (request) => (mayWatch(request, { identity, guesses }) ? state() : null),
  });

  const unsubscribe = monitor.subscribe({
    reading: (reading, gaugeMm, diameterMm, speedMmPerS) => feed.reading(reading, gaugeMm, diameterMm, speedMmPerS),
    changed: () => feed.changed(),
  });
  const unwatchDevices = identity.onChange((id, held) => {
    feed.closeOf(id);
    lines?.closeOf(id);
    answers.cut(id, held);
  });
  feed.start();
  const stopLooking = lookAhead({ ...options.nights, logger: options.logger });
  const stop = async () => {
    stopLooking();
    unsubscribe();
    stopMetrics();
    unwatchDevices();
    feed.stop();
    lines?.stop();
    secure?.stop();
    await api.close();
  };
  try {
    const address = await api.listen({ host: options.host, port: options.port });
    // Browsers on the machine itself need no certificate.
    const { hostname } = new URL(address);
    const scheme = secure === null || isLoopback(hostname) ? 'http' : 'https';
    return { address: address.replace(/^http/, scheme), stop };
  } catch (thrown) {
    await stop();
    throw listenProblem(thrown, options.host, options.port);
  }
}

function listenProblem(thrown: unknown, host: string, port: number): Problem {
  const code = (thrown as NodeJS.ErrnoException).code;
  if (code === 'EADDRINUSE') {
    return new Problem(
      'port-in-use',
      `Port ${port} on ${host} is in use by another program, perhaps another Strandward.`,
      'Close that program, or choose another port with --port.',
      { cause: thrown },
    );
  }
  return new Problem(
    'port-in-use',
    `Cannot listen on ${host} port ${port}: ${messageOf(thrown)}.`,
    'Check --host and --port.',
    {
      cause: thrown,
    },
  );
}
