/*
 * The words of care: short on every page, whole on what is printed, and those of a visit at the step that they belong to.
 * They come before convenience: nothing that a page offers may read as if it replaced one of them.
 */

export const CARE_SHORT = { strong: 'Maintenance information only.', rest: 'It replaces no required signal, inspection, test or supervising station. No finding is no proof of order.' } as const;

/** On every page and every printed sheet, in full. */
export const CARE_ALWAYS: readonly string[] = [
  'What is shown here is maintenance information only. It replaces no required signal, inspection, test or supervising station.',
  'That nothing was found is no proof that a generator or a system is in order.',
  'Whether something is a deficiency or an impairment is for the licensed person and the authority having jurisdiction to say.',
  "Follow local codes and the maker's instructions.",
  'Work on sprinkler systems is for licensed people.',
  'Leak figures are an indication, never a test result.',
];

/** Those of a visit, by what they are about, so that a step can show its own. */
export const CARE_OF = {
  tellFirst: "Tell the owner's impairment coordinator and the supervising station first, then close anything.",
  neverTouch: 'Never touch the water control valve, the dry valve or the accelerator.',
  power: 'Lock out and tag out the power (OSHA 1910.147 or the local rule): the machine restarts by itself.',
  tank: 'Shut and lock the tank valve: a check valve is no isolation.',
  vent: 'Vent each section and leave its bleed open while you work: a gauge at zero is no proof.',
  hot: 'The compressor head and the cooler are hot.',
  protection: 'Wear eye and ear protection.',
  nitrogen: 'Nitrogen in a small room displaces oxygen; below 19.5 % there is too little. Ventilate, use an oxygen meter, and do not work alone in cold stores and machine rooms.',
  oxygen: 'What the membrane lets go and what is blown off is rich in oxygen; above 23.5 % it is enriched. No flame, no oil, and lead it outside.',
  condensate: 'Oily condensate is waste: collect it.',
  sagging: 'Piping whose pressure sags can trip the valve and flood or freeze: keep to the time allowed.',
  putBack: 'Put every valve back, and verify each.',
  leakFigures: 'Leak figures are an indication, never a test result.',
} as const;

/** On visit sheets, after what stands on every sheet. */
export const CARE_VISIT: readonly string[] = Object.values(CARE_OF).filter((words) => words !== CARE_OF.leakFigures);
