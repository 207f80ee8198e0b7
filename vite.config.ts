import { createHash } from 'node:crypto';
import preact from '@preact/preset-vite';
import { defineConfig, type Plugin } from 'vite';

/** Beside what is built: files that a visit needs without signal too. */
const PUBLIC_FILES = ['/icon.svg', '/lull.webmanifest'];

/** Writes the names of the built files into the service worker; charts are left out, a phone without signal has none to draw. */
function filesForOffline(): Plugin {
  return {
    name: 'lull-files-for-offline',
    generateBundle(_options, bundle) {
      const worker = bundle['service-worker.js'];
      if (worker?.type !== 'chunk') return;
      const files = [...Object.keys(bundle).filter((name) => name.startsWith('assets/') && !name.includes('draw-chart')).map((name) => `/${name}`), ...PUBLIC_FILES].sort();
      const page = bundle['index.html'];
      const hash = createHash('sha256').update(files.join(' ')).update(page?.type === 'asset' ? page.source : '').digest('hex').slice(0, 12);
      worker.code = worker.code.replace('__FILES__', files.join(' ')).replace('__HASH__', hash);
    },
  };
}

/** The pages are built into `.build/web`, which the server hands out. Nothing is inlined: the pages forbid inline script and style. */
export default defineConfig({
  root: 'dashboard/web',
  base: '/',
  plugins: [preact({ devToolsEnabled: false, prefreshEnabled: false, reactAliasesEnabled: false }), filesForOffline()],
  build: {
    outDir: '../../.build/web',
    emptyOutDir: true,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    target: 'es2022',
    sourcemap: false,
    reportCompressedSize: true,
    rolldownOptions: {
      input: ['dashboard/web/index.html', 'dashboard/web/service-worker.ts'],
      // The worker of a phone without signal keeps its name, since that name is asked for again.
      output: { entryFileNames: (chunk) => (chunk.name === 'service-worker' ? 'service-worker.js' : 'assets/[name]-[hash].js') },
    },
  },
  server: { proxy: { '/api': 'http://127.0.0.1:4280' } },
});
