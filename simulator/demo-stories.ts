import type { Part } from '../shared/registry.ts';
import type { FaultScenario, UpsetScenario, VisitScenario } from './scenario.ts';

/** What befalls one generator of the demo; days of its history, 130 = when the demo is first opened. */
export type DemoStory = { readonly faults?: readonly FaultScenario[]; readonly upsets?: readonly UpsetScenario[]; readonly visits?: readonly VisitScenario[] };

const ALL_ELEMENTS: readonly Part[] = ['intake-element', 'particulate-element', 'coalescing-element', 'carbon-element'];
const MORNING = 9.4 / 24;

function visit(id: string, day: number, replaced: readonly Part[], note: string): VisitScenario {
  return { id, atDay: day + MORNING, hours: 1.6, replaced, by: 'A. Sample', note };
}
/** Moment at which a visit of that day is over. */
const after = (day: number): number => day + MORNING + 1.6 / 24;

export const DEMO_STORIES: Readonly<Record<string, DemoStory>> = {
  // In progress.
  'quay-7/gen-1': { faults: [{ cause: 'leak', severity: 'marked', shape: 'ramp', fromDay: 84, growDays: 60 }] },
  'acorn-lot/gen-1': { faults: [{ cause: 'leak', severity: 'plain', shape: 'step', fromDay: 126.3 }] },
  'larkfield/gen-2': { visits: [visit('visit-larkfield-2', 122, ALL_ELEMENTS, 'yearly change of elements')], faults: [{ cause: 'bleed-left-open', variant: 'feed', severity: 'marked', shape: 'step', fromDay: after(122) }] },
  'cloud-barn/gen-2': { visits: [visit('visit-cloud-2', 128, ALL_ELEMENTS, 'yearly change of elements')], faults: [{ cause: 'valve-left-shut', severity: 'urgent', shape: 'step', fromDay: after(128) }] },
  'maple-yard/gen-1': { faults: [{ cause: 'element-loading', severity: 'marked', shape: 'step', fromDay: 72 }] },
  'seven-sheds/gen-1': { faults: [{ cause: 'element-loading', severity: 'urgent', shape: 'step', fromDay: 119 }] },
  'sugar-dock/gen-1': { faults: [{ cause: 'drain-stuck-open', severity: 'marked', shape: 'comes-and-goes', fromDay: 112.6 }] },
  'kelp-cannery/gen-1': { faults: [{ cause: 'drain-stuck-closed', severity: 'plain', shape: 'step', fromDay: 121.2 }] },
  'tram-depot/gen-1': { faults: [{ cause: 'compressor-side', variant: 'wear', severity: 'urgent', shape: 'ramp', fromDay: 48, growDays: 100 }] },
  'salmon-pier/gen-1': { faults: [{ cause: 'compressor-side', variant: 'belt', severity: 'marked', shape: 'step', fromDay: 123.4 }] },
  'polar-pantry/gen-2': { faults: [{ cause: 'membrane-decline', variant: 'fouled', severity: 'marked', shape: 'ramp', fromDay: 55, growDays: 85 }] },
  'mill-lane/gen-2': { faults: [{ cause: 'check-valve-leaking', severity: 'marked', shape: 'step', fromDay: 109.7 }] },
  'heron-hall/gen-1': { faults: [{ cause: 'sensor-fault', variant: 'freeze', severity: 'plain', shape: 'step', fromDay: 124.1, channel: 'feed-pressure' }] },
  'moss-hangar/gen-2': { faults: [{ cause: 'no-power', severity: 'urgent', shape: 'step', fromDay: 129.35 }] },
  'glass-arcade/gen-2': { faults: [{ cause: 'data-gap', severity: 'urgent', shape: 'step', fromDay: 128.2 }] },
  'button-works/gen-1': { faults: [{ cause: 'leak', severity: 'plain', shape: 'step', fromDay: 104 }] },
  // Past, and mended.
  'cloud-barn/gen-1': { faults: [{ cause: 'leak', variant: 'tank', severity: 'plain', shape: 'step', fromDay: 58.3, toDay: 88 + MORNING, endedBy: 'visit-cloud-1' }], visits: [visit('visit-cloud-1', 88, ['o-rings'], 'o-ring at the tank drain renewed')] },
  'quay-7/gen-2': { faults: [{ cause: 'drain-stuck-open', severity: 'marked', shape: 'step', fromDay: 70.1, toDay: 92 + MORNING, endedBy: 'visit-quay-2' }], visits: [visit('visit-quay-2', 92, ['drain'], 'drain of the coalescing bowl renewed')] },
  'clock-tower/gen-1': { faults: [{ cause: 'leak', severity: 'marked', shape: 'ramp', fromDay: 62, growDays: 30, toDay: 118 + MORNING, endedBy: 'visit-clock-1' }], visits: [visit('visit-clock-1', 118, [], 'coupling on riser 1 tightened')] },
  // In good order, with what happens to such as well.
  'quay-9/gen-1': { upsets: [{ kind: 'trip-test', fromDay: 96 + MORNING, hours: 80 }] },
  'paper-palace/gen-1': { visits: [visit('visit-paper-1', 63, ALL_ELEMENTS, 'yearly change of elements')] },
  'sugar-dock/gen-2': { visits: [visit('visit-sugar-2', 101, ALL_ELEMENTS, 'yearly change of elements')], upsets: [{ kind: 'low-pressure-test', fromDay: 90 + MORNING, hours: 0.25 }] },
  'maple-yard/gen-2': { upsets: [{ kind: 'set-point', fromDay: 80 + MORNING, hours: 24_000, size: 30 }] },
  'tin-whistle/gen-1': { upsets: [{ kind: 'late-burst', fromDay: 114.2, hours: 40 }] },
  'far-light/gen-1': { upsets: [{ kind: 'power-cut', fromDay: 100.6, hours: 5 }] },
  'seven-sheds/gen-2': { upsets: [{ kind: 'power-cut', fromDay: 77.4, hours: 2 }] },
  'glass-arcade/gen-1': { upsets: [{ kind: 'low-pressure-test', fromDay: 66 + MORNING, hours: 0.25 }] },
  'moss-hangar/gen-1': { upsets: [{ kind: 'gap', fromDay: 85.3, hours: 30 }] },
};
