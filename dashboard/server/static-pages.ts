import { existsSync } from 'node:fs';
import { join } from 'node:path';
import express, { type NextFunction, type Request, type Response, Router } from 'express';
import { sendProblem } from './problem.ts';

const NOT_BUILT = `<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>Lull: pages not built</title>
<h1>The pages are not built</h1>
<p>The server runs, but the folder of its pages is empty. Run <code>npm run build</code> and load this page again.</p>
<p>The data can be read meanwhile: <a href="/api/v1/overview">/api/v1/overview</a>, <a href="/api/v1/openapi.json">/api/v1/openapi.json</a>.</p>
</html>
`;

/**
 * The pages as vite built them. Assets carry a hash in their names and are kept for good; every page of ours is
 * index.html, which is asked for anew each time.
 */
export function staticPages(webFolder: string): Router {
  const router = Router();
  const index = join(webFolder, 'index.html');
  router.use('/assets', express.static(join(webFolder, 'assets'), { index: false, immutable: true, maxAge: '365d', fallthrough: true }));
  router.use(express.static(webFolder, { index: false, maxAge: 0, setHeaders: (response) => void response.setHeader('cache-control', 'no-cache') }));
  router.use((request: Request, response: Response, next: NextFunction) => {
    if (request.method !== 'GET' && request.method !== 'HEAD') {
      sendProblem(response, 405, 'Pages can only be read. Writing goes to /api/v1.', { allow: 'GET, HEAD' });
      return;
    }
    if (/\.[a-z0-9]{1,5}$/i.test(request.path)) {
      sendProblem(response, 404, 'There is no such file.');
      return;
    }
    response.set('cache-control', 'no-cache');
    if (!existsSync(index)) response.status(503).type('html').send(NOT_BUILT);
    // By its root, since a whole path through `.build` would be refused as hidden.
    else response.sendFile('index.html', { root: webFolder, cacheControl: false }, (error) => {
      if (error !== undefined && error !== null) next(error);
    });
  });
  return router;
}
