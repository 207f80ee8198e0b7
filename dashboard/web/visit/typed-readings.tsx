import { type GaugeUnit, gaugeWords, kPaFromGauge, typedNumber } from '../../views/gauge-units.ts';
import type { NormalHere } from '../../views/normal-here.ts';
import type { VisitReading } from '../../views/visit-readings.ts';

/** What is normal here, beside the field in which it is typed: kPa, or per cent. */
const NORMAL_OF: Readonly<Record<string, (normal: NormalHere) => number | null>> = {
  systemPressureKPa: (normal) => normal.systemKPa,
  elementDropKPa: (normal) => normal.elementDropKPa,
  nitrogenPercent: (normal) => normal.nitrogenPercent,
  cutInKPa: (normal) => normal.cutInKPa,
  cutOutKPa: (normal) => normal.cutOutKPa,
};
/** Between the units of gauges lie factors of 7 and more; what is typed in the wrong one is further off than this. Piping that lost its pressure is too, and is worth a second look as well. */
const FAR = 4;

/** One number to be typed: words, unit and what is normal stand with it; what is no number is said at once. */
export function TypedNumber(props: { readonly words: string; readonly unit: string; readonly hint?: string | undefined; readonly value: string; readonly doubt?: string | undefined; readonly change: (text: string) => void }) {
  const wrong = typedNumber(props.value) === undefined;
  return (
    <label class="typed">
      <span>
        {props.words}, {props.unit}
        {props.hint !== undefined && <span class="under">{props.hint}</span>}
      </span>
      <input inputMode="decimal" autocomplete="off" aria-invalid={wrong ? 'true' : undefined} value={props.value} onInput={(event) => props.change(event.currentTarget.value)} />
      {wrong && <span class="typed-wrong">is no number</span>}
      {!wrong && props.doubt !== undefined && <span class="typed-wrong">{props.doubt}</span>}
    </label>
  );
}

/** The readings of a visit, as found or as left; what isn't known is left empty. */
export function TypedReadings(props: { readonly title: string; readonly readings: readonly VisitReading[]; readonly risers?: readonly string[]; readonly values: Readonly<Record<string, string>>; readonly unit: GaugeUnit; readonly normal: NormalHere | undefined; readonly change: (values: Readonly<Record<string, string>>) => void }) {
  const { values, unit } = props;
  const several = (props.risers ?? []).length > 1 ? (props.risers ?? []) : [];
  const rows = props.readings.flatMap((reading) => (reading.name === 'systemPressureKPa' && several.length > 0 ? several.map((riser) => ({ ...reading, name: `${reading.name}.${riser}`, words: `${reading.words}, ${riser}` })) : [reading]));
  return (
    <fieldset>
      <legend>{props.title}. Leave empty what you can't read.</legend>
      <div class="typed-list">
        {rows.map((reading) => {
          const known = (props.normal === undefined ? undefined : NORMAL_OF[reading.name.split('.')[0] ?? '']?.(props.normal)) ?? undefined;
          const normal = known === undefined ? undefined : reading.unit === 'gauge' ? gaugeWords(known, unit) : `${known.toFixed(1)}\u00a0${reading.unit}`;
          const typed = typedNumber(values[reading.name]);
          const kept = typed === null || typed === undefined ? undefined : reading.unit === 'gauge' ? kPaFromGauge(typed, unit) : typed;
          const doubt = known !== undefined && kept !== undefined && reading.name !== 'elementDropKPa' && (kept < known / FAR || kept > known * FAR) ? `far from ${normal}: is the unit right?` : undefined;
          const hint = [reading.hint, normal === undefined ? undefined : `normal ${normal}`].filter((one) => one !== undefined).join('; ');
          return <TypedNumber key={reading.name} words={reading.words} unit={reading.unit === 'gauge' ? unit : reading.unit} hint={hint === '' ? undefined : hint} value={values[reading.name] ?? ''} doubt={doubt} change={(text) => props.change({ ...values, [reading.name]: text })} />;
        })}
      </div>
    </fieldset>
  );
}
