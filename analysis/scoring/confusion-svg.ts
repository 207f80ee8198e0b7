import { CAUSES } from '../../shared/finding.ts';
import type { ConfusionCell } from './score-table.ts';
import { picture, rect, text } from './svg.ts';

const NAME = 140;
const HEAD = 130;
const CELL = 34;
const ROW = 22;

/** Truth against what was said, darker for a larger share of its row. */
export function confusionSvg(cells: readonly ConfusionCell[]): string {
  const rows = [...CAUSES, 'none' as const].filter((cause) => cells.some((cell) => cell.truth === cause));
  const columns = [...CAUSES, 'nothing' as const].filter((cause) => cells.some((cell) => cell.said === cause));
  const inner = columns.map((said, column) => text(0, 0, said, 'start', ` transform="translate(${NAME + column * CELL + CELL / 2 + 4} ${HEAD - 6}) rotate(-60)"`));
  rows.forEach((truth, row) => {
    const own = cells.filter((cell) => cell.truth === truth);
    const all = own.reduce((sum, cell) => sum + cell.count, 0);
    const y = HEAD + row * ROW;
    inner.push(text(NAME - 8, y + 15, truth, 'end'));
    columns.forEach((said, column) => {
      const count = own.find((cell) => cell.said === said)?.count ?? 0;
      const share = all > 0 ? count / all : 0;
      inner.push(rect(NAME + column * CELL + 1, y + 1, CELL - 2, ROW - 2, count === 0 ? '#f4f6f9' : `rgba(43,92,158,${(0.15 + 0.85 * share).toFixed(2)})`));
      if (count > 0) inner.push(text(NAME + column * CELL + CELL / 2, y + 15, `${count}`, 'middle', share > 0.5 ? ' fill="#fff"' : ''));
    });
  });
  const label = cells.map((cell) => `${cell.truth} said as ${cell.said}: ${cell.count}`).join('; ');
  return picture(NAME + columns.length * CELL + 110, HEAD + rows.length * ROW + 8, label, inner);
}
