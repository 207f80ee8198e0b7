import type { Condition, Slot } from './condition.ts';

/** Without power, or with a gauge that lies, what else seems to have changed is no news of its own; `open`: slots with a finding, and what these findings hide. */
export function hiddenSlots(conditions: readonly Condition[], open: ReadonlySet<Slot>, byOpen: readonly Slot[] = []): Set<Slot> {
  const slots = new Set(conditions.map((condition) => condition.slot));
  const hidden = new Set<Slot>();
  const hide = (...hiding: readonly Slot[]): void => {
    for (const slot of hiding) hidden.add(slot);
  };
  if (slots.has('power')) hide('running', 'supply', 'data');
  if (conditions.some((condition) => condition.slot === 'sensor' && condition.aside !== true && condition.lying === undefined)) hide('demand', 'delivery', 'duty', 'supply', 'set-point');
  const lying = new Set(conditions.flatMap((condition) => condition.lying ?? []));
  if (lying.has('piping')) hide('supply');
  // What such a gauge seemed to say is over, unless the tank says it too.
  if ((lying.has('elements') || lying.has('nitrogen')) && !slots.has('delivery')) hide('delivery');
  if (conditions.some((condition) => condition.slot === 'set-point' && condition.cause === 'sensor-fault')) hide('demand', 'delivery', 'duty', 'supply');
  if (conditions.some((condition) => condition.ofTank === true) && !conditions.some((condition) => condition.cause === 'runs-without-end')) hide('running');
  // The drop over the elements is read in any run.
  const byDrop = conditions.some((condition) => condition.cause === 'element-loading');
  for (const slot of [...byOpen, ...conditions.flatMap((condition) => condition.hides ?? [])]) if (slot !== 'delivery' || !byDrop) hide(slot);
  // What shows in demand of a supply that was told of is no news, nor while it runs for once.
  if (slots.has('supply') || (open.has('supply') && conditions.some(({ slot, cause }) => slot === 'demand' && (cause === 'valve-left-shut' || cause === 'supply-bypassed')))) hide('demand');
  // Where nothing runs, nothing is made, and what is drawn comes to an end by itself.
  if (conditions.some((condition) => condition.cause === 'not-starting')) hide('demand', 'delivery', 'duty', 'supply', 'set-point');
  // Where every run is cut short, the band seems to have moved.
  if (slots.has('running') || open.has('running')) hide('set-point');
  // A run that may not end because less is made or more is drawn is that other finding's news.
  const endless = conditions.find((condition) => condition.slot === 'running' && condition.cause === 'runs-without-end');
  const told = endless !== undefined && open.has('running') && !open.has('demand') && !open.has('delivery');
  if (endless !== undefined && !told && endless.causes[0]!.probability < 0.9 && (slots.has('demand') || slots.has('delivery') || slots.has('duty'))) hide('running');
  // Nor does one that was found before and makes its runs so long.
  if (endless !== undefined && endless.letsOff !== true && !open.has('running') && (open.has('demand') || open.has('delivery'))) hide('running');
  // A stop that isn't reached may be more drawn or less made; where one of them was found before, or that nothing stops it, it is that.
  for (const { slot, causes } of conditions) {
    const other = slot === 'demand' ? 'delivery' : slot === 'delivery' ? 'demand' : undefined;
    if (other !== undefined && (open.has(other) || open.has('running')) && !open.has(slot) && causes.some((one) => one.cause === 'runs-without-end')) hide(slot);
  }
  // Whatever runs all day is told once, and so is what is left of it in the days before it was mended.
  for (const slot of ['running', 'demand', 'delivery', 'supply'] as const) if (slots.has(slot) || open.has(slot)) hide('duty');
  return hidden;
}

/** One condition a slot: the first, which is the one most sure. */
export function firstOfEachSlot(conditions: readonly Condition[]): Condition[] {
  const first = new Map<Slot, Condition>();
  for (const condition of conditions) if (!first.has(condition.slot)) first.set(condition.slot, condition);
  return [...first.values()];
}
