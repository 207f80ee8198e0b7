import { createServer, type Server as HttpServer } from 'node:http';
import { createServer as createTlsServer } from 'node:https';
import type { AddressInfo } from 'node:net';
import express, { type Express, type NextFunction, type Request, type Response } from 'express';
import type { Entry } from '../../shared/entry.ts';
import { ConfigError } from '../../shared/errors.ts';
import type { ReadingBatch } from '../../shared/reading-batch.ts';
import { checkRoutes } from './check-routes.ts';
import { findingRoutes } from './finding-routes.ts';
import { fleetRoutes } from './fleet-routes.ts';
import { createFleetView, type FleetView } from './fleet-view.ts';
import { gatewayRoutes } from './gateway-routes.ts';
import { generatorRoutes } from './generator-routes.ts';
import { handOverRoutes } from './hand-over-route.ts';
import { historyRoutes } from './history-routes.ts';
import { noticeRoutes } from './notice-routes.ts';
import { createLiveStream, type LiveStream } from './live-stream.ts';
import { loopbackOnly, refuseOpenBind, securityHeaders } from './loopback.ts';
import { API_ROOT } from './open-api.ts';
import { planRoutes } from './plan-routes.ts';
import { HttpProblem, problemHandler } from './problem.ts';
import { registryRoutes } from './registry-routes.ts';
import { recordRoutes } from './record-routes.ts';
import { replayRoutes } from './replay-routes.ts';
import type { Route } from './route.ts';
import type { ServerParams } from './server-params.ts';
import { staticPages } from './static-pages.ts';
import { sendDocument, storedDocument } from './stored-document.ts';
import { photoRoutes } from './photo-routes.ts';
import { tripRoutes } from './trip-routes.ts';
import { typedReadings } from './typed-readings.ts';
import { visitRoutes } from './visit-routes.ts';
import { watchRoutes } from './watch-routes.ts';
import { workRoutes } from './work-routes.ts';

const BODY_LIMIT = '1mb';
/** Connections that don't end by themselves are cut this long after `stop`, ms. */
const PATIENCE_MS = 1000;

export type Server = {
  readonly port: number;
  /** After each tick of analysis: what it wrote is read anew, and pages are told. */
  ticked(): void;
  /** Readings that were just committed, for pages that look at their generator. */
  committed(batch: ReadingBatch): void;
  /** Names, sites or claims changed. */
  registryChanged(): void;
  /** Resolves within 3 s; open streams are ended. */
  stop(): Promise<void>;
};

/**
 * Serve the API and the pages.
 * @throws {ConfigError} for a host that isn't loopback, and for a port that is taken.
 */
export async function startServer(params: ServerParams): Promise<Server> {
  refuseOpenBind(params.host);
  const fleet = createFleetView(params);
  const live = createLiveStream(params.status);
  const reload = createReload(fleet, live, params);
  // What a person enters shows in the lists before analysis has seen it.
  const onEntry = (entry: Entry): void => {
    fleet.entered(entry);
    params.onEntry(entry);
  };
  const app = appOf({ ...params, onEntry }, fleet, live);
  const http = params.tls === undefined ? createServer(app) : createTlsServer({ ...params.tls, minVersion: 'TLSv1.2' }, app);
  // Node waits 5 s between requests of one connection; pages ask in bursts.
  http.keepAliveTimeout = 30_000;
  await listen(http, params);
  reload();
  return {
    port: (http.address() as AddressInfo).port,
    ticked: reload,
    committed: (batch) => live.committed(batch),
    registryChanged: reload,
    stop: () => stop(http, live),
  };
}

/** Read anew, one at a time; calls that come meanwhile ask for one more. */
function createReload(fleet: FleetView, live: LiveStream, { log }: ServerParams): () => void {
  let running = false;
  let again = false;
  async function run(): Promise<void> {
    running = true;
    do {
      again = false;
      try {
        await fleet.reload();
        live.tick(await fleet.at());
      } catch (error) {
        log.error('what analysis wrote could not be read; the lists stay as they were', { error: error instanceof Error ? error.message : String(error) });
      }
    } while (again);
    running = false;
  }
  return () => {
    again = true;
    if (!running) void run();
  };
}

function appOf(params: ServerParams, fleet: FleetView, live: LiveStream): Express {
  const changed = (): void => void fleet.at().then((at) => live.tick(at), () => undefined);
  const routes: Route[] = [
    ...fleetRoutes(fleet, params), ...handOverRoutes(fleet, params), ...generatorRoutes(fleet, params), ...historyRoutes(fleet, params),
    ...findingRoutes(fleet, params, changed), ...visitRoutes(fleet, params, changed), ...tripRoutes(fleet, params, changed), ...planRoutes(fleet, params, changed), ...workRoutes({ fleet, params, changed }), ...photoRoutes(params), ...recordRoutes(fleet, params), ...gatewayRoutes(fleet, params), ...checkRoutes(fleet, params), ...replayRoutes(params.replays),
    ...noticeRoutes(params), ...registryRoutes(fleet, params, changed), ...typedReadings(fleet, params),
    ...watchRoutes(live, params, () => routes),
  ];
  const app = express();
  app.disable('x-powered-by').disable('etag').set('query parser', 'simple').set('case sensitive routing', true);
  app.use(securityHeaders, loopbackOnly);
  if (params.simulated) app.use(sayThatItIsSimulated);
  app.use(API_ROOT, jsonOnly, express.json({ limit: BODY_LIMIT, type: 'application/json' }));
  for (const route of routes) app[route.method](expressPath(route), (request, response) => answer(route, request, response));
  refuseOtherMethods(app, routes);
  app.use(API_ROOT, () => {
    throw new HttpProblem(404, `There is no such path below ${API_ROOT}. ${API_ROOT}/openapi.json lists those that are.`);
  });
  app.use(staticPages(params.webFolder), problemHandler(params.log));
  return app;
}

function sayThatItIsSimulated(_request: Request, response: Response, next: NextFunction): void {
  response.set('lull-simulated', 'true');
  next();
}

function expressPath(route: Route): string {
  return API_ROOT + route.path.replaceAll(/\{(\w+)\}/g, ':$1');
}

/** A form of another site can't send JSON without being asked first, so nothing but JSON is read. */
function jsonOnly(request: Request, _response: Response, next: NextFunction): void {
  if (request.method === 'POST' && request.is('application/json') === false) throw new HttpProblem(415, 'Send the body as JSON, with content-type: application/json.');
  next();
}

function refuseOtherMethods(app: Express, routes: readonly Route[]): void {
  for (const path of new Set(routes.map(expressPath))) {
    const methods = routes.filter((route) => expressPath(route) === path).map((route) => route.method.toUpperCase());
    const allow = [...methods, ...(methods.includes('GET') ? ['HEAD'] : [])].join(', ');
    app.all(path, (request) => {
      throw new HttpProblem(405, `${request.method} is not taken here; ${allow} is.`, { allow });
    });
  }
}

async function answer(route: Route, request: Request, response: Response): Promise<void> {
  const given = await route.run(request);
  if ('stream' in given) given.stream(request, response);
  else if ('document' in given) await sendDocument(request, response, given.document, true);
  else if ('text' in given) response.set({ 'cache-control': 'no-store', ...given.headers, 'content-type': given.contentType }).send(given.text);
  else if (route.method === 'get') await sendDocument(request, response, storedDocument(JSON.stringify(given.json)), false);
  else response.status(given.status ?? 200).set('cache-control', 'no-store').type('application/json').send(JSON.stringify(given.json));
}

function listen(http: HttpServer, { host, port }: ServerParams): Promise<void> {
  return new Promise((resolve, reject) => {
    http.once('error', (error: NodeJS.ErrnoException) => reject(error.code === 'EADDRINUSE' ? new ConfigError(`Cannot listen on port ${port} as something else does. Set LULL_HTTP_PORT to a free one.`, { cause: error }) : error));
    http.listen(port, host.replaceAll(/[[\]]/g, ''), resolve);
  });
}

async function stop(http: HttpServer, live: LiveStream): Promise<void> {
  const cut = setTimeout(() => http.closeAllConnections(), PATIENCE_MS);
  const closed = new Promise<void>((resolve) => void http.close(() => resolve()));
  live.stop();
  http.closeIdleConnections();
  await closed;
  clearTimeout(cut);
}
