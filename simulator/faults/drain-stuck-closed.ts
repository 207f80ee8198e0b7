import { type FaultKind, means, severities } from './fault.ts';

/** The drain never opens: the bowl fills with water, nothing shows, then water reaches the elements and everything moves at once. A drain is shut or it isn't; severity is how much water an hour finds its way out all the same, and how the membrane has suffered. A frozen one thaws again. */
export const drainStuckClosed: FaultKind = {
  cause: 'drain-stuck-closed',
  variants: {
    shut: {
      measure: 'share of the permeance that wet fibres have lost',
      severities: severities(means(0.001, 'found at once'), means(0.02, 'some days of water'), means(0.05, 'weeks of water'), means(0.12, 'the membrane stands in water')),
      apply: (dep, size) => {
        dep.drainShut = true;
        dep.permeance *= 1 - size;
      },
    },
    frozen: {
      measure: 'room temperature at which its water freezes, °C',
      severities: severities(means(-6, 'in hard frost'), means(-3, 'in frost'), means(0, 'at freezing point'), means(2, 'in a draught, before the room freezes')),
      apply: (dep, size) => void (dep.drainFreezesC = Math.max(dep.drainFreezesC, size)),
    },
  },
};
