// World: one generator, seed 5, each fault in its four severities; the effect named beside it must not turn round.
import { expect, test } from 'vitest';
import type { Cause } from '../../../shared/finding.ts';
import { FAULTS } from '../../../simulator/faults/table.ts';
import { SEVERITIES } from '../../../simulator/scenario.ts';
import { type Means, meansOf, oneGenerator } from '../one-generator.ts';

const EFFECTS: Partial<Record<Cause, (means: Means) => number>> = {
  leak: (m) => m.demandNLPerMin, 'bleed-left-open': (m) => m.dutyRatio, 'check-valve-leaking': (m) => m.demandNLPerMin, 'element-loading': (m) => m.drop,
  'drain-stuck-open': (m) => -m.deliveryNLPerMin, 'compressor-side': (m) => -m.deliveryNLPerMin, 'membrane-decline': (m) => -m.nitrogen, 'element-missing': (m) => -m.nitrogen, 'drain-stuck-closed': (m) => -m.nitrogen, 'stops-short': (m) => -m.runMin,
};

for (const kind of FAULTS) {
  const effect = EFFECTS[kind.cause];
  if (effect === undefined) continue;
  for (const variant of Object.keys(kind.variants)) {
    test(`applyFault() of ${kind.cause}/${variant} acts more the more severe it is`, () => {
      const effects = SEVERITIES.map((severity) => effect(meansOf(oneGenerator({ faults: [{ cause: kind.cause, variant, severity, shape: 'step', fromDay: 0 }] }), 6, 2)));
      const sorted = [...effects].sort((a, b) => a - b);
      expect(effects).toEqual(sorted);
      expect(effects[3]!).toBeGreaterThan(effects[0]!);
    });
  }
}

test('every fault states sizes that grow, and what they mean', () => {
  for (const kind of FAULTS) {
    for (const variant of Object.values(kind.variants)) {
      const sizes = SEVERITIES.map((severity) => variant.severities[severity].size);
      expect(sizes).toEqual([...sizes].sort((a, b) => a - b));
      for (const severity of SEVERITIES) expect(variant.severities[severity].says.length).toBeGreaterThan(2);
    }
  }
});
