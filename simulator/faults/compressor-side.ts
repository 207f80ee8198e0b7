import { type FaultKind, means, severities } from './fault.ts';

const losses = severities(means(0.04, '4 % of the flow'), means(0.1, '10 %'), means(0.18, '18 %'), means(0.3, '30 %: hardly reaches cut-out'));

/** Rings and valves wear, the belt slips, the voltage is low, the intake is blocked: less flow at every pressure. */
export const compressorSide: FaultKind = {
  cause: 'compressor-side',
  variants: {
    wear: { measure: 'share of the flow lost', severities: losses, apply: (dep, size) => void (dep.flowLoss = 1 - (1 - dep.flowLoss) * (1 - size)) },
    belt: { measure: 'share of the speed lost', severities: losses, apply: (dep, size) => void (dep.flowLoss = 1 - (1 - dep.flowLoss) * (1 - size)) },
  },
};
