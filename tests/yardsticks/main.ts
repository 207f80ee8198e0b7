// `npm run yardsticks -- FOLDER [--json] [NAME …]`: ours beside the published figures. FOLDER holds the data (README.md here).
import process from 'node:process';
import { changePoints } from './change-points.ts';
import { compressorWindows } from './compressor-windows.ts';
import { cyclingAppliances } from './cycling-appliances.ts';
import { filterLoading } from './filter-loading.ts';
import { simulatedChanges } from './simulated-changes.ts';
import { asText, type Table } from './table.ts';

const YARDSTICKS: Record<string, (folder: string) => Table | Promise<Table>> = {
  'filter-loading': (folder) => filterLoading(folder),
  'simulated-changes': () => simulatedChanges(),
  'change-points': changePoints,
  'compressor-windows': compressorWindows,
  'cycling-appliances': cyclingAppliances,
};

const json = process.argv.includes('--json');
const [folder, ...asked] = process.argv.slice(2).filter((word) => word !== '--json');
const unknown = asked.filter((name) => !(name in YARDSTICKS));
if (folder === undefined || unknown.length > 0) {
  console.error(`Give the folder of the data, and if you like some of: ${Object.keys(YARDSTICKS).join(', ')}.`);
  process.exitCode = 2;
} else {
  const tables: Record<string, Table> = {};
  for (const name of asked.length > 0 ? asked : Object.keys(YARDSTICKS)) {
    const table = await YARDSTICKS[name]?.(folder);
    if (table === undefined) continue;
    tables[name] = table;
    if (!json) console.log(`${asText(table)}\n`);
  }
  if (json) console.log(JSON.stringify(tables, null, 2));
}
