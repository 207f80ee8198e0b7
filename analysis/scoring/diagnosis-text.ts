import type { DiagnosisBars, Part } from './diagnosis-bars.ts';
import { rateWords } from './rate.ts';
import { changeWords, linesOf, percent, spanWords } from './text-table.ts';

/** A figure beside the bar that it is held to; shares also as numbers, for the picture. */
export type BarRow = { readonly figure: string; readonly stands: string; readonly bar: string; readonly share?: number | null; readonly barShare?: number };

const SHARE_BARS: Readonly<Record<string, number>> = { 'all channels': 0.96, 'run state + tank + nitrogen': 0.93, 'duty + tank + nitrogen': 0.88 };

/** Every bar of diagnosis as a row; a figure that no world asked for says so with a dash. */
export function diagnosisRows(bars: DiagnosisBars): BarRow[] {
  const ofWords = (part: Part): string => (part.share === null ? '–' : `${percent(part.share)} (${part.part} of ${part.of})`);
  const share = (figure: string, part: Part, barShare: number, bar = `${percent(barShare)} or more`): BarRow => ({ figure, stands: ofWords(part), bar, share: part.share, barShare });
  return [
    { figure: 'false findings, generators in good order, upsets included', stands: rateWords(bars.falseInGoodOrder), bar: '0.05 or less, upper limit 0.1' },
    share("found, of faults above the generator's own smallest change for 10 days", bars.foundOfExceeding, 0.98),
    share('abrupt faults of 6 cycle scatters: found', bars.abruptFound, 0.98, '–'),
    share('  of these within the later of 12 h and 5 cycles', bars.abruptWithin, 0.5, 'half or more'),
    { figure: '  delay, half and 90 %', stands: `${spanWords(bars.abruptMedianH)}, ${spanWords(bars.abrupt90H)}`, bar: '90 % within 2 days' },
    { figure: 'growing faults: effect when found, half', stands: changeWords(bars.growingEffect), bar: `${changeWords(bars.growingBar)} (8 % or 2 day scatters, half)` },
    share('  of these no larger than that', bars.growingWithin, 0.5, 'half or more'),
    ...bars.rightFirst.map((one) => (SHARE_BARS[one.sends] === undefined ? { figure: `right cause first, of the found: ${one.sends}`, stands: ofWords(one), bar: '–' } : share(`right cause first, of the found: ${one.sends}`, one, SHARE_BARS[one.sends]!))),
    share('valve left shut or bleed left open: known by its time', bars.leftInTime, 0.99),
    share('not starting, stops short, never stops: within 1 h', bars.runningWithinHour, 0.99),
    { figure: 'scatter of day demand in the worlds (10, 50, 90 % of generators)', stands: scatterWords(bars.demandScatter), bar: '–' },
    { figure: 'scatter of day delivery in the worlds', stands: scatterWords(bars.deliveryScatter), bar: '–' },
  ];
}

function scatterWords(spread: DiagnosisBars['demandScatter']): string {
  const words = (scatter: number): string => `${(100 * Math.expm1(scatter)).toFixed(1)} %`;
  return spread === null ? '–' : `${words(spread.p10)}, ${words(spread.p50)}, ${words(spread.p90)}`;
}

export function diagnosisText(bars: DiagnosisBars): string[] {
  return linesOf(['figure', 'stands at', 'bar'], diagnosisRows(bars).map((row) => [row.figure, row.stands, row.bar]));
}
