import { counted } from './gateway.ts';
import { gaugesNow } from './gauges.ts';
import type { GeneratorState } from './generator-state.ts';
import { settle } from './plant/controller.ts';
import { noDepartures } from './plant/departures.ts';
import { ELEMENT_NAMES } from './plant/elements.ts';
import { atmosphereKPa } from './plant/gas.ts';
import { motorOf } from './plant/motor.ts';
import type { GeneratorScenario } from './scenario.ts';

/** Hour meter and start counter begin anew. */
export function resetCounters(state: GeneratorState, scenario: GeneratorScenario, day: number): void {
  let due = 0;
  for (const upset of scenario.upsets) if (upset.kind === 'counter-reset' && day >= upset.fromDay) due += 1;
  if (due === (state.resets ?? 0)) return;
  state.resets = due;
  const { runS, starts } = motorOf(state.plant);
  state.countedFrom = { runS, starts };
}

/** A counter that came round its end is a sign that anybody could see. */
export function noteRounds(state: GeneratorState, scenario: GeneratorScenario): void {
  if (scenario.counterEnds === undefined) return;
  const { rounds } = counted(state, scenario);
  const atMs = Math.round(state.plant.atMs);
  if (state.rounds !== undefined && rounds > state.rounds) state.signs.push({ kind: 'counter-round', fromMs: atMs, toMs: atMs });
  state.rounds = rounds;
}

/** What the technician reads as a visit begins. */
export function readAsFound(state: GeneratorState, scenario: GeneratorScenario, day: number): void {
  const visit = scenario.visits[state.visitsDone];
  if (visit?.readGauges !== true || day < visit.atDay || state.gauges.some((one) => one.visit === state.visitsDone)) return;
  state.gauges.push({ visit: state.visitsDone, asFound: gaugesNow(state.plant, scenario), asLeft: null });
}

/** Parts changed at visits that are over by now. A part logged as changed and not changed stays as it was. */
export function finishVisits(state: GeneratorState, scenario: GeneratorScenario, day: number): void {
  for (;;) {
    const visit = scenario.visits[state.visitsDone];
    if (visit === undefined || day < visit.atDay + visit.hours / 24) return;
    const read = state.gauges?.find((one) => one.visit === state.visitsDone);
    state.visitsDone += 1;
    const really = visit.replaced.filter((part) => !(visit.notReally ?? []).includes(part));
    ELEMENT_NAMES.forEach((name, index) => {
      if (really.includes(name)) state.plant.loading[index] = 0;
    });
    if (really.includes('compressor')) state.plant.wear = 0;
    if (really.includes('drain')) state.plant.waterMl = 0;
    if (read !== undefined) {
      // A technician lets it run before leaving, with everything shut that should be.
      settle(state.plant, scenario.plant, noDepartures(scenario.plant.risers.length), atmosphereKPa(scenario.plant.elevationM));
      read.asLeft = gaugesNow(state.plant, scenario);
    }
    state.plant.curveMs = 0;
    state.nextLookMs = state.plant.atMs;
  }
}
