import { type FaultKind, means, severities } from './fault.ts';

const losses = severities(means(0.02, '2 % of the flow'), means(0.045, '4.5 %: a tenth of the product'), means(0.09, '9 %: a sixth of the product, a quarter where the membrane floats'), means(0.15, '15 %: a quarter to a half'));

/** Rings and valves wear, the belt slips, the voltage is low, the intake is blocked: less flow at every pressure. The membrane takes its share first, so the product loses two to three times as much. */
export const compressorSide: FaultKind = {
  cause: 'compressor-side',
  variants: {
    wear: { measure: 'share of the flow lost', severities: losses, apply: (dep, size) => void (dep.flowLoss = 1 - (1 - dep.flowLoss) * (1 - size)) },
    belt: { measure: 'share of the speed lost', severities: losses, apply: (dep, size) => void (dep.flowLoss = 1 - (1 - dep.flowLoss) * (1 - size)) },
  },
};
