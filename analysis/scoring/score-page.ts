import { curveSvg } from './curve-svg.ts';
import { confusionSvg } from './confusion-svg.ts';
import { reliabilitySvg } from './reliability-svg.ts';
import { diagnosisSvg, falseFindingsSvg, foundSvg } from './bars-svg.ts';
import { diagnosisRows } from './diagnosis-text.ts';
import type { ScoreTable } from './score-table.ts';
import { rateWords } from './rate.ts';
import { scoreText } from './score-text.ts';
import { escaped } from './svg.ts';

export type PageParams = { readonly head: string; readonly table: ScoreTable; readonly comparison?: string };

const STYLE = `body{font:15px/1.5 system-ui,sans-serif;margin:2rem auto;max-width:62rem;padding:0 1rem;color:#1a2230;background:#fff}
h1{font-size:1.4rem}h2{font-size:1.05rem;margin:2rem 0 .3rem}p{margin:.3rem 0}svg{max-width:100%;height:auto}
.pair{display:flex;flex-wrap:wrap;gap:1rem}.pair>div{flex:1 1 26rem}pre{overflow-x:auto;font-size:12px;background:#f4f6f9;padding:1rem}`;

function section(title: string, says: string, inner: string): string {
  return `<div><h2>${escaped(title)}</h2><p>${escaped(says)}</p>${inner}</div>`;
}

/** The score as one page that needs nothing else: pictures as SVG, and the whole table as text. */
export function scorePage({ head, table, comparison }: PageParams): string {
  const parts = [
    `<div class="pair">${section('Found, by size', 'Share of faults found, against the largest change of run time in any week. In brackets: faults.', curveSvg(table.curve))}${section('Do stated probabilities come true?', 'Each dot is a tenth of the scale; its size tells how many findings. On the line they would be honest.', reliabilitySvg(table.reliability))}</div>`,
    section('Found, by cause', 'Bars: share of faults found; the dark part was also named. On the right: faults, and from onset to finding for half of them.', foundSvg(table.byCause)),
    section('Shares that diagnosis is held to', 'Bars: how it stands; the line across is where it should be. Dark: reached.', diagnosisSvg(diagnosisRows(table.diagnosis))),
    section('False findings, by what they said', rateWords(table.falseFindings), falseFindingsSvg(table.byCause, table.generatorYears)),
    section('What was true, and what was said', 'Rows: the truth; columns: what was said when judged. "none" is a false finding, "nothing" a miss.', confusionSvg(table.confusion)),
    ...(comparison === undefined ? [] : [section('Two settings on the same worlds', 'Only measures that differ.', `<pre>${escaped(comparison)}</pre>`)]),
    section('The whole table', head, `<pre>${escaped(scoreText(table))}</pre>`),
  ];
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>Lull: score</title><style>${STYLE}</style></head>
<body><h1>Score on simulated worlds</h1><p>${escaped(head)}</p><p>Everything here is simulated. Maintenance information only; it replaces no required signal, inspection, test or supervising station.</p>
${parts.join('\n')}
</body></html>
`;
}
