/** The elements in the order in which the air meets them; the drop of a clean one at nominal flow, kPa, and its life, running hours. */
export type ElementName = 'intake-element' | 'particulate-element' | 'coalescing-element' | 'carbon-element';
export const ELEMENT_NAMES: readonly ElementName[] = ['intake-element', 'particulate-element', 'coalescing-element', 'carbon-element'];

/** Common practice, no source: an intake element is changed at 2.5 to 5 kPa. A spent carbon element shows nothing in its drop, so its loading hardly adds any. */
export const ELEMENT_KINDS: Readonly<Record<ElementName, { readonly cleanKPa: number; readonly lifeH: number; readonly growth: number; readonly takesDamp: number }>> = {
  'intake-element': { cleanKPa: 0.8, lifeH: 1500, growth: 4, takesDamp: 0.2 },
  'particulate-element': { cleanKPa: 1.6, lifeH: 3000, growth: 9, takesDamp: 0.6 },
  'coalescing-element': { cleanKPa: 4.5, lifeH: 2500, growth: 9, takesDamp: 1 },
  'carbon-element': { cleanKPa: 2.2, lifeH: 1500, growth: 0.1, takesDamp: 0.1 },
};

/**
 * Loading of an element after some running, 1 = its usual life. Damp air loads faster: up to twice at 98 % for one that
 * takes all of the damp.
 */
export function loadElement(loading: number, name: ElementName, runH: number, roomPercent: number, rate: number): number {
  const kind = ELEMENT_KINDS[name];
  const damp = 1 + kind.takesDamp * Math.max(0, (roomPercent - 60) / 38);
  return loading + (runH / kind.lifeH) * damp * rate;
}

/**
 * Drop over one element, kPa. A quadratic rise with loading: slow at first, then ever faster, as dust-loading tests show.
 */
export function elementDropKPa(name: ElementName, loading: number, flowFactor: number): number {
  const kind = ELEMENT_KINDS[name];
  return kind.cleanKPa * (1 + kind.growth * loading * loading) * flowFactor;
}

/** What all elements share: flow to the power of 1.4 (laminar at the fibre, turbulent in the head), over density. 1 at nominal flow. */
export function elementFlowFactor(flowRatio: number, densityRatio: number): number {
  return flowRatio ** 1.4 / densityRatio;
}
