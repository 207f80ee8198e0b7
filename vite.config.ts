import preact from '@preact/preset-vite';
import { defineConfig } from 'vite';

/** The pages are built into `.build/web`, which the server hands out. Nothing is inlined: the pages forbid inline script and style. */
export default defineConfig({
  root: 'dashboard/web',
  base: '/',
  plugins: [preact({ devToolsEnabled: false, prefreshEnabled: false, reactAliasesEnabled: false })],
  build: {
    outDir: '../../.build/web',
    emptyOutDir: true,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    target: 'es2022',
    sourcemap: false,
    reportCompressedSize: true,
  },
  server: { proxy: { '/api': 'http://127.0.0.1:4280' } },
});
