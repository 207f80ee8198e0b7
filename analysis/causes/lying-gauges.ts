import { type BaseChannel, baseChannel, type Channel } from '../../shared/channels.ts';
import type { DayRow } from '../../shared/cycle.ts';
import type { LyingGauge } from './condition.ts';

/** What of a day goes by a gauge, and the channels that it is heard by. */
const SHOWN: Readonly<Record<LyingGauge, { readonly blank: Partial<DayRow>; readonly channels: readonly BaseChannel[] }>> = {
  elements: { blank: { dischargeKPa: null, feedKPa: null, elementDropKPa: null, feedFallS: null, dischargeRestKPa: null, feedRestKPa: null }, channels: ['discharge-pressure', 'feed-pressure'] },
  nitrogen: { blank: { nitrogen: null, nitrogenDip: null }, channels: ['nitrogen', 'oxygen'] },
  piping: { blank: { systemKPa: null }, channels: ['system-pressure'] },
};

/** Which gauges lie where these channels stand still. */
export function lyingBy(channels: readonly Channel[]): readonly LyingGauge[] {
  return (Object.keys(SHOWN) as LyingGauge[]).filter((gauge) => channels.some((channel) => SHOWN[gauge].channels.includes(baseChannel(channel))));
}

/**
 * The days without what these gauges show, before they went wrong as well, since nothing can be held against it now. They are
 * sent all the same: what they would tell apart is left to how often each cause happens, and named with that sureness.
 */
export function withoutLying(rows: readonly DayRow[], lying: ReadonlySet<LyingGauge>): readonly DayRow[] {
  if (lying.size === 0) return rows;
  const blank = Object.assign({}, ...[...lying].map((gauge) => SHOWN[gauge].blank)) as Partial<DayRow>;
  return rows.map((row) => Object.assign({}, row, blank));
}
