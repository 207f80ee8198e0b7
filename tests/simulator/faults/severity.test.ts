// World: one generator, seed 5, each fault in its four severities; the effect named beside it must not turn round.
import { expect, test } from 'vitest';
import type { Cause } from '../../../shared/finding.ts';
import { FAULTS } from '../../../simulator/faults/table.ts';
import { type Departures, noDepartures } from '../../../simulator/plant/departures.ts';
import { SEVERITIES } from '../../../simulator/scenario.ts';
import { type Means, meansOf, oneGenerator } from '../one-generator.ts';

const EFFECTS: Partial<Record<Cause, (means: Means) => number>> = {
  leak: (m) => m.demandNLPerMin, 'bleed-left-open': (m) => m.dutyRatio, 'check-valve-leaking': (m) => m.demandNLPerMin, 'element-loading': (m) => m.drop,
  'drain-stuck-open': (m) => -m.deliveryNLPerMin, 'compressor-side': (m) => -m.deliveryNLPerMin, 'membrane-decline': (m) => -m.nitrogen, 'element-missing': (m) => -m.nitrogen, 'drain-stuck-closed': (m) => -m.nitrogen, 'stops-short': (m) => -m.runMin,
};
/** These are there or not, or need frost: their severities are looked at below. */
const WITHOUT_SIZE = ['element-missing/not-changed', 'drain-stuck-closed/frozen'];

for (const kind of FAULTS) {
  const effect = EFFECTS[kind.cause];
  if (effect === undefined) continue;
  for (const variant of Object.keys(kind.variants)) {
    if (WITHOUT_SIZE.includes(`${kind.cause}/${variant}`)) continue;
    test(`applyFault() of ${kind.cause}/${variant} acts more the more severe it is`, () => {
      const effects = SEVERITIES.map((severity) => effect(meansOf(oneGenerator({ faults: [{ cause: kind.cause, variant, severity, shape: 'step', fromDay: 0 }] }), 6, 2)));
      const sorted = [...effects].sort((a, b) => a - b);
      expect(effects).toEqual(sorted);
      expect(effects[3]!).toBeGreaterThan(effects[0]!);
    });
  }
}

/** All that departs, as numbers by name; a sensor that lies as the size of its lie. */
function numbersOf(dep: Departures): Map<string, number> {
  const found = new Map<string, number>();
  for (const [name, value] of Object.entries(dep)) {
    if (typeof value === 'number' || typeof value === 'boolean') found.set(name, Number(value));
    else if (Array.isArray(value)) value.forEach((one, index) => found.set(`${name} ${index}`, Number(one)));
    else if (value !== null && typeof value === 'object') found.set(name, Math.abs((value as { size: number }).size));
  }
  return found;
}

// Identity: of every variant, whatever departs from good order moves one way along the four severities.
test('no fault turns round with its severity', () => {
  for (const kind of FAULTS) {
    for (const [name, variant] of Object.entries(kind.variants)) {
      const found = SEVERITIES.map((severity) => {
        const dep = noDepartures(3);
        variant.apply(dep, variant.severities[severity].size, { cause: kind.cause, severity, shape: 'step', fromDay: 0, channel: 'tank-pressure', otherChannel: 'feed-pressure' });
        return numbersOf(dep);
      });
      for (const field of found[0]!.keys()) {
        const values = found.map((one) => one.get(field)!);
        const up = values.every((value, index) => index === 0 || value >= values[index - 1]!);
        const down = values.every((value, index) => index === 0 || value <= values[index - 1]!);
        expect(up || down, `${kind.cause}/${name} ${field}: ${values.join(' ')}`).toBe(true);
      }
      const nothing = JSON.stringify([...numbersOf(noDepartures(3))]) === JSON.stringify([...found[3]!]);
      expect(nothing, `${kind.cause}/${name}`).toBe(name === 'not-changed' || kind.cause === 'sensor-fault' ? nothing : false);
    }
  }
});

test('every fault states sizes that grow, and what they mean', () => {
  for (const kind of FAULTS) {
    for (const variant of Object.values(kind.variants)) {
      const sizes = SEVERITIES.map((severity) => variant.severities[severity].size);
      expect(sizes).toEqual([...sizes].sort((a, b) => a - b));
      for (const severity of SEVERITIES) expect(variant.severities[severity].says.length).toBeGreaterThan(2);
    }
  }
});
