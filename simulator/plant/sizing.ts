import { compressorNLPerMin, type CompressorSpec } from './compressor.ts';
import type { FeedSpec } from './feed-train.ts';
import { atmosphereKPa, orificeNLPerMin, valveNLPerMin } from './gas.ts';
import { AIR_OXYGEN, crossFlow, SELECTIVITY } from './membrane.ts';

/** What a data sheet would say of a generator. */
export type Rating = {
  /** Product at mid-band, 20 °C room. */
  readonly ratedNLPerMin: number;
  readonly ratedNitrogen: number;
  readonly cutInKPa: number;
  readonly cutOutKPa: number;
  /** Feed pressure above the tank's mid-band: 20 = the membrane floats on the tank, 300 = restricted. */
  readonly headroomKPa: number;
  readonly elevationM: number;
};

/** Choose compressor, membrane and restriction so that the train, new and clean, does what the rating says. */
export function sizeFeed(rating: Rating): FeedSpec {
  const atmKPa = atmosphereKPa(rating.elevationM);
  const tankAbsKPa = (rating.cutInKPa + rating.cutOutKPa) / 2 + atmKPa;
  const feedAbsKPa = tankAbsKPa + rating.headroomKPa;
  let small = 0.05;
  let large = 6;
  for (let round = 0; round < 50; round += 1) {
    const middle = (small + large) / 2;
    if (crossFlow(middle, atmKPa / feedAbsKPa, AIR_OXYGEN, SELECTIVITY).oxygen > 1 - rating.ratedNitrogen) small = middle;
    else large = middle;
  }
  const feedNLPerMin = rating.ratedNLPerMin / crossFlow(small, atmKPa / feedAbsKPa, AIR_OXYGEN, SELECTIVITY).product;
  return {
    compressor: sizedCompressor(feedNLPerMin, feedAbsKPa + 8, atmKPa),
    membraneNLPerMinKPa: (small * feedNLPerMin) / feedAbsKPa,
    productLPerSBar: rating.ratedNLPerMin / valveNLPerMin(1, feedAbsKPa, tankAbsKPa, 293.15),
    nominalFeedNLPerMin: feedNLPerMin,
    nominalFeedAbsKPa: feedAbsKPa,
  };
}

function sizedCompressor(flowNLPerMin: number, dischargeAbsKPa: number, atmKPa: number): CompressorSpec {
  const unit = { displacementLPerMin: 1, clearanceRatio: 0.03, intakeRiseK: 6 };
  const perLitre = compressorNLPerMin(unit, { roomK: 293.15, atmKPa, intakeDropKPa: 0.8 }, dischargeAbsKPa, 1);
  return { ...unit, displacementLPerMin: flowNLPerMin / perLitre };
}

/** A compressor that gives so much against a gauge pressure. */
export function sizeCompressor(flowNLPerMin: number, gaugeKPa: number, elevationM: number): CompressorSpec {
  const atmKPa = atmosphereKPa(elevationM);
  return sizedCompressor(flowNLPerMin, gaugeKPa + atmKPa, atmKPa);
}

/** Sieve beds take about as much as they give at 98 %: common practice, no source. */
const SIEVE_AIR_PER_PRODUCT = 2;

/** The same with sieve beds in place of the membrane. */
export function sizeSieve(rating: Rating, swingS: number): FeedSpec {
  const { ratedNLPerMin } = rating;
  const atmKPa = atmosphereKPa(rating.elevationM);
  const tankAbsKPa = (rating.cutInKPa + rating.cutOutKPa) / 2 + atmKPa;
  const feedAbsKPa = tankAbsKPa + rating.headroomKPa;
  const feedNLPerMin = SIEVE_AIR_PER_PRODUCT * ratedNLPerMin;
  return {
    compressor: sizedCompressor(feedNLPerMin, feedAbsKPa + 8, atmKPa),
    membraneNLPerMinKPa: 0,
    productLPerSBar: ratedNLPerMin / valveNLPerMin(1, feedAbsKPa, tankAbsKPa, 293.15),
    nominalFeedNLPerMin: feedNLPerMin,
    nominalFeedAbsKPa: feedAbsKPa,
    sieve: { bedNLPerMinKPa: (feedNLPerMin - ratedNLPerMin) / (feedAbsKPa - atmKPa), ratedNLPerMin, ratedOxygen: 1 - rating.ratedNitrogen, ratedFeedAbsKPa: feedAbsKPa, swingS },
  };
}

/** Holes that together lose this much from piping at its set point, mm². */
export function leakForNLPerMin(lossNLPerMin: number, gaugeKPa: number, elevationM: number): number {
  const atmKPa = atmosphereKPa(elevationM);
  return lossNLPerMin / orificeNLPerMin(1, gaugeKPa + atmKPa, atmKPa, 288.15);
}
