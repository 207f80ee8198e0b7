import { useState } from 'preact/hooks';
import { PRESSURE_UNITS, type ShownUnits, shownUnits, TEMPERATURE_UNITS } from '../../views/shown-units.ts';
import { valueWords } from '../../views/number-words.ts';
import { chooseUnits } from '../units.ts';
import { ChoiceField } from './form-fields.tsx';

/** In which units this browser shows pressures and temperatures; what is kept and sent stays kPa and °C. */
export function UnitsPart() {
  const [units, setUnits] = useState(shownUnits);
  const change = (changes: Partial<ShownUnits>): void => {
    const next = { ...units, ...changes };
    chooseUnits(next);
    setUnits(next);
  };
  return (
    <section aria-labelledby="units-title">
      <h2 id="units-title">Units in this browser</h2>
      <div class="in-line">
        <ChoiceField words="Pressures" value={units.pressure} choices={PRESSURE_UNITS.map((one) => [one, one] as const)} change={(pressure) => change({ pressure: pressure as ShownUnits['pressure'] })} />
        <ChoiceField words="Temperatures" value={units.temperature} choices={TEMPERATURE_UNITS.map((one) => [one, one] as const)} change={(temperature) => change({ temperature: temperature as ShownUnits['temperature'] })} />
        <p class="quiet" role="status">
          So that a tank reads, say, {valueWords(650, 'kPa')}, and a room {valueWords(18, '°C')}.
        </p>
      </div>
    </section>
  );
}
