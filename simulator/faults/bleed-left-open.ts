import { holeMm2 } from '../plant/gas.ts';
import { type FaultKind, means, severities } from './fault.ts';

/** Made by a visit: a bleed that was opened to vent a section is not shut again. */
export const bleedLeftOpen: FaultKind = {
  cause: 'bleed-left-open',
  variants: {
    feed: {
      measure: 'opening of the bleed after the elements, mm',
      severities: severities(means(0.3, 'hardly open'), means(0.5, 'a quarter turn'), means(0.7, 'half open'), means(0.9, 'open: half of the product is lost')),
      apply: (dep, size) => {
        dep.feedBleedMm2 += holeMm2(size);
      },
    },
    tank: {
      measure: 'opening of the bleed at the tank, mm',
      severities: severities(means(0.12, 'hardly open'), means(0.22, 'a quarter turn'), means(0.33, 'half open'), means(0.5, 'open')),
      apply: (dep, size) => {
        dep.tankLeakMm2 += holeMm2(size);
      },
    },
  },
};
