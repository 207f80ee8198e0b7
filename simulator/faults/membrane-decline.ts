import { holeMm2 } from '../plant/gas.ts';
import { type FaultKind, means, severities } from './fault.ts';

/** Oil and water foul the fibres (more product, less pure), or fibres tear (less product, less pure). */
export const membraneDecline: FaultKind = {
  cause: 'membrane-decline',
  variants: {
    fouled: {
      measure: 'share of the permeance lost',
      severities: severities(means(0.08, 'two thousandths of purity'), means(0.15, 'half a per cent of purity'), means(0.25, 'under 98 %'), means(0.4, 'far under 98 %')),
      apply: (dep, size) => void (dep.permeance *= 1 - size),
    },
    torn: {
      measure: 'hole in the fibres, mm',
      severities: severities(means(0.25, 'one fibre'), means(0.4, 'some fibres'), means(0.6, 'a bundle'), means(0.8, 'a cracked pot')),
      apply: (dep, size) => void (dep.tornMm2 += holeMm2(size)),
    },
  },
};
