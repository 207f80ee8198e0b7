import { type GaugeUnit, gaugeWords, typedNumber } from '../../views/gauge-units.ts';
import type { NormalHere } from '../../views/normal-here.ts';
import type { VisitReading } from '../../views/visit-readings.ts';

/** What is normal here, beside the field in which it is typed. */
const NORMAL_OF: Readonly<Record<string, (normal: NormalHere, unit: GaugeUnit) => string | undefined>> = {
  systemPressureKPa: (normal, unit) => pressure(normal.systemKPa, unit),
  elementDropKPa: (normal, unit) => pressure(normal.elementDropKPa, unit),
  nitrogenPercent: (normal) => (normal.nitrogenPercent === null ? undefined : `${normal.nitrogenPercent.toFixed(1)}\u00a0%`),
  cutInKPa: (normal, unit) => pressure(normal.cutInKPa, unit),
  cutOutKPa: (normal, unit) => pressure(normal.cutOutKPa, unit),
};

function pressure(kPa: number | null, unit: GaugeUnit): string | undefined {
  return kPa === null ? undefined : gaugeWords(kPa, unit);
}

/** One number to be typed: words, unit and what is normal stand with it; what is no number is said at once. */
export function TypedNumber(props: { readonly words: string; readonly unit: string; readonly hint?: string | undefined; readonly value: string; readonly change: (text: string) => void }) {
  const wrong = typedNumber(props.value) === undefined;
  return (
    <label class="typed">
      <span>
        {props.words}, {props.unit}
        {props.hint !== undefined && <span class="under">{props.hint}</span>}
      </span>
      <input inputMode="decimal" autocomplete="off" aria-invalid={wrong ? 'true' : undefined} value={props.value} onInput={(event) => props.change(event.currentTarget.value)} />
      {wrong && <span class="typed-wrong">is no number</span>}
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
          const normal = props.normal === undefined ? undefined : NORMAL_OF[reading.name.split('.')[0] ?? '']?.(props.normal, unit);
          const hint = [reading.hint, normal === undefined ? undefined : `normal ${normal}`].filter((one) => one !== undefined).join('; ');
          return <TypedNumber key={reading.name} words={reading.words} unit={reading.unit === 'gauge' ? unit : reading.unit} hint={hint === '' ? undefined : hint} value={values[reading.name] ?? ''} change={(text) => props.change({ ...values, [reading.name]: text })} />;
        })}
      </div>
    </fieldset>
  );
}
