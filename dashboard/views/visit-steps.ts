import type { Visit } from '../../shared/visit.ts';
import { CARE_OF } from './words-of-care.ts';

/** What a step asks for beside being ticked. */
export type StepPart = 'told' | 'as-found' | 'allowed' | 'closes' | 'work' | 'as-left' | 'opens' | 'valves' | 'normal' | 'looks' | 'hold-tests' | 'places';
export type VisitStep = { readonly id: string; readonly title: string; readonly does: readonly string[]; readonly care: readonly string[]; readonly part: StepPart | null };

const TELL: VisitStep = {
  id: 'tell', title: 'Tell the coordinator and the supervising station', part: 'told',
  does: ['Call both before anything is closed. Write down whom you spoke to.'],
  care: [CARE_OF.tellFirst, CARE_OF.neverTouch],
};
const VALVES: VisitStep = {
  id: 'valves', title: 'Valves, one by one, against the list', part: 'valves',
  does: ['Go to each valve, put your hand on it, and tick how you leave it.'],
  care: [CARE_OF.putBack, CARE_OF.neverTouch],
};
const NORMAL: VisitStep = {
  id: 'normal', title: 'Station and coordinator confirm normal', part: 'normal',
  does: ['Call both again. Write down who confirmed that signals are normal.'],
  care: [],
};
const LOOKS: VisitStep = {
  id: 'second-look', title: 'Second look by Lull, after 4 h and after 24 h', part: 'looks',
  does: ['Nothing for you to do: Lull looks again and says what it sees. It cannot see every valve.'],
  care: ['That nothing is found is no proof of order.'],
};

/** A service, in the order in which it is safe; each step with its own words of care. */
export const SERVICE_STEPS: readonly VisitStep[] = [
  TELL,
  {
    id: 'as-found', title: 'As found, while it runs', part: 'as-found',
    does: ['Read before you touch. Purity only after 10 min of running. Look at every valve by name and note how it stands. Take a photo.'],
    care: [CARE_OF.protection, CARE_OF.hot, CARE_OF.nitrogen],
  },
  {
    id: 'time-allowed', title: 'Time allowed closed', part: 'allowed',
    does: ['Read the piping pressure now. If no time is left, do not close: the piping must be filled first.'],
    care: [CARE_OF.sagging],
  },
  {
    id: 'close-supply', title: 'Close the supply to the piping', part: 'closes',
    does: ['Close the supply valve of the nitrogen only. The clock starts when you tick this.'],
    care: [CARE_OF.tellFirst, CARE_OF.neverTouch, CARE_OF.sagging],
  },
  {
    id: 'power-off', title: 'Power off, lock, let it cool', part: null,
    does: ['Switch off, lock, tag, try to start it. Let the head cool.'],
    care: [CARE_OF.power, CARE_OF.hot],
  },
  {
    id: 'tank-valve', title: 'Shut and lock the tank valve', part: null,
    does: ['Shut the valve between tank and membrane, and lock it.'],
    care: [CARE_OF.tank],
  },
  {
    id: 'relieve', title: 'Relieve each section', part: null,
    does: ['Open the bleed of each section, slowly. Bleeds stay open while you work.'],
    care: [CARE_OF.vent, CARE_OF.protection, CARE_OF.nitrogen, CARE_OF.oxygen],
  },
  {
    id: 'work', title: 'Work: bowls, elements, drains, o-rings', part: 'work',
    does: ['One bowl at a time, in the order in which the air meets them: intake, particulate, coalescing, carbon. Mind the flow arrow on each element. Clean or change the drains. New o-rings, seated and lightly greased as the maker says.'],
    care: [CARE_OF.vent, CARE_OF.condensate, CARE_OF.oxygen],
  },
  {
    id: 'restart', title: 'Close bleeds, power on, watch one full stop and start', part: 'as-left',
    does: ['Close every bleed. Take the locks off, open the tank valve, power on. Watch one full stop and one start. Leak check with spray at each bowl. Purge until purity holds. Then read as left.'],
    care: [CARE_OF.putBack, CARE_OF.oxygen, CARE_OF.nitrogen, CARE_OF.protection],
  },
  {
    id: 'open-supply', title: 'Open the supply, slowly', part: 'opens',
    does: ["Read the regulator's outlet first. Open the supply slowly. Watch the piping for 15 min."],
    care: [CARE_OF.neverTouch, CARE_OF.sagging],
  },
  VALVES,
  NORMAL,
  { id: 'timer', title: "Reset the cabinet's timer", part: null, does: ['Reset the service timer or counter in the cabinet, if there is one.'], care: [] },
  LOOKS,
];

/** Find the leak: riser by riser, each with a hold test. */
export const LEAK_STEPS: readonly VisitStep[] = [
  TELL,
  {
    id: 'as-found', title: 'As found, while it runs', part: 'as-found',
    does: ['Read before you touch. Look at every valve by name and note how it stands.'],
    care: [CARE_OF.protection, CARE_OF.nitrogen],
  },
  {
    id: 'tank-side', title: 'The tank side first', part: null,
    does: ['Spray tank, fittings, drains and sample bleed. Listen. What is found here needs no riser to be closed.'],
    care: [CARE_OF.protection, CARE_OF.hot, CARE_OF.nitrogen],
  },
  {
    id: 'hold-tests', title: 'Riser by riser: close its supply, and hold', part: 'hold-tests',
    does: ['One riser at a time. Close its nitrogen supply, read, wait, read again, open its supply, and only then go to the next.'],
    care: [CARE_OF.tellFirst, CARE_OF.neverTouch, CARE_OF.sagging, CARE_OF.leakFigures],
  },
  {
    id: 'places', title: 'Where it leaks', part: 'places',
    does: ['Walk the riser that falls fastest: spray, listen, low points first. Note each place. Work on the sprinkler piping itself is for licensed people.'],
    care: [CARE_OF.neverTouch],
  },
  VALVES,
  NORMAL,
  LOOKS,
];

export function stepsOf(procedure: Visit['procedure']): readonly VisitStep[] {
  return procedure === 'service' ? SERVICE_STEPS : LEAK_STEPS;
}
