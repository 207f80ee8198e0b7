import { createHash } from 'node:crypto';
import preact from '@preact/preset-vite';
import { build, defineConfig, type Plugin } from 'vite';

/** Beside what is built: files that a visit needs without signal too. */
const PUBLIC_FILES = ['/icon.svg', '/lull.webmanifest'];
const TARGET = 'es2022';

/**
 * Builds the service worker as one file of its own, since not every browser takes modules there, and writes the names of the
 * built files into it; charts are left out, a phone without signal has none to draw.
 */
function offlineWorker(): Plugin {
  let root = '';
  return {
    name: 'lull-offline-worker',
    configResolved(config) {
      root = config.root;
    },
    async writeBundle({ dir }, bundle) {
      const files = [...Object.keys(bundle).filter((name) => name.startsWith('assets/') && !name.includes('draw-chart')).map((name) => `/${name}`), ...PUBLIC_FILES].sort();
      const page = bundle['index.html'];
      const hash = createHash('sha256').update(files.join(' ')).update(page?.type === 'asset' ? page.source : '').digest('hex').slice(0, 12);
      await build({
        configFile: false, root, logLevel: 'error', plugins: [written({ __FILES__: files.join(' '), __HASH__: hash })],
        // The worker of a phone without signal keeps its name, since that name is asked for again.
        build: { ...(dir === undefined ? {} : { outDir: dir }), emptyOutDir: false, copyPublicDir: false, target: TARGET, rolldownOptions: { input: 'dashboard/web/service-worker.ts', output: { format: 'iife', entryFileNames: 'service-worker.js' } } },
      });
    },
  };
}

/** Puts words in place of their names. */
function written(words: Readonly<Record<string, string>>): Plugin {
  return {
    name: 'lull-written',
    generateBundle(_options, bundle) {
      for (const one of Object.values(bundle)) if (one.type === 'chunk') for (const [name, says] of Object.entries(words)) one.code = one.code.replace(name, says);
    },
  };
}

/** The pages are built into `.build/web`, which the server hands out. Nothing is inlined: the pages forbid inline script and style. */
export default defineConfig({
  root: 'dashboard/web',
  base: '/',
  plugins: [preact({ devToolsEnabled: false, prefreshEnabled: false, reactAliasesEnabled: false }), offlineWorker()],
  build: {
    outDir: '../../.build/web',
    emptyOutDir: true,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    target: TARGET,
    sourcemap: false,
    reportCompressedSize: true,
    rolldownOptions: { input: 'dashboard/web/index.html', output: { entryFileNames: 'assets/[name]-[hash].js' } },
  },
  server: { proxy: { '/api': 'http://127.0.0.1:4280' } },
});
