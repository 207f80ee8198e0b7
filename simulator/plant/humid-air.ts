/** Water vapour over a flat surface of water (ice below 0 °C), Pa: Hyland and Wexler's fit, as ASHRAE Fundamentals prints it. */
export function saturationPa(airC: number): number {
  const t = airC + 273.15;
  return airC < 0
    ? Math.exp(-5.6745359e3 / t + 6.3925247 - 9.677843e-3 * t + 6.2215701e-7 * t ** 2 + 2.0747825e-9 * t ** 3 - 9.484024e-13 * t ** 4 + 4.1635019 * Math.log(t))
    : Math.exp(-5.8002206e3 / t + 1.3914993 - 4.8640239e-2 * t + 4.1764768e-5 * t ** 2 - 1.4452093e-8 * t ** 3 + 6.5459673 * Math.log(t));
}

/** Relative humidity, %, from temperature and dew point: Magnus as in WMO-No. 8 (water, −45..60 °C); quick, for the weather. */
export function relativeHumidityPercent(airC: number, dewPointC: number): number {
  return 100 * Math.exp((17.62 * dewPointC) / (243.12 + dewPointC) - (17.62 * airC) / (243.12 + airC));
}

/** kg of water per kg of dry air. */
export function humidityRatio(vapourPa: number, totalPa: number): number {
  return (0.621945 * vapourPa) / (totalPa - vapourPa);
}

/** kg of dry air in a normal litre. */
const DRY_KG_PER_NL = 1.29228e-3;

/** Water that falls out of each normal litre of intake air once it is compressed and cooled again, g. */
export function condensateGramsPerNL(intakeC: number, intakePercent: number, intakeKPa: number, absKPa: number, cooledC: number): number {
  const taken = humidityRatio((saturationPa(intakeC) * intakePercent) / 100, intakeKPa * 1000);
  const kept = humidityRatio(saturationPa(cooledC), absKPa * 1000);
  return Math.max(0, taken - kept) * DRY_KG_PER_NL * 1000;
}
