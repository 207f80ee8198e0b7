import type { ClimateName } from './plant/climates.ts';
import type { ChannelSet, PipingPlace } from './site-plant.ts';

export type DemoGenerator = {
  readonly id: string;
  readonly channels: ChannelSet;
  readonly ratedNLPerMin: number;
  readonly tankLitres: number;
  /** Share of the time that it runs in good order. */
  readonly dutyRatio: number;
  readonly risers: readonly number[];
  readonly headroomKPa: number;
  readonly piping: PipingPlace;
};
export type DemoSite = { readonly id: string; readonly name: string; readonly area: string; readonly timeZone: string; readonly climate: ClimateName; readonly elevationM: number; readonly access: string; readonly generators: readonly DemoGenerator[] };

function generator(id: string, channels: ChannelSet, ratedNLPerMin: number, tankLitres: number, dutyRatio: number, risers: readonly number[], headroomKPa: number, piping: DemoGenerator['piping']): DemoGenerator {
  return { id, channels, ratedNLPerMin, tankLitres, dutyRatio, risers, headroomKPa, piping };
}

const LISBON = { timeZone: 'Europe/Lisbon', climate: 'foothill' as const };
const ROME = { timeZone: 'Europe/Rome', climate: 'foothill' as const };
const NEW_YORK = { timeZone: 'America/New_York', climate: 'inland' as const };
const ANCHORAGE = { timeZone: 'America/Anchorage', climate: 'subarctic' as const };

/** Every site here is invented, names and all. Litres of piping are given riser by riser. */
export const DEMO_SITES: readonly DemoSite[] = [
  { id: 'quay-7', name: 'Quay 7 cold store', area: 'harbour', ...LISBON, elevationM: 4, access: 'ring at gate B, weekdays 07:00-16:00', generators: [generator('gen-1', 'motor', 28, 115, 0.06, [2300], 90, 'cold'), generator('gen-2', 'motor', 28, 115, 0.045, [1900], 90, 'cold')] },
  { id: 'quay-9', name: 'Quay 9 banana hall', area: 'harbour', ...LISBON, elevationM: 4, access: 'gate C, ask for the shift lead', generators: [generator('gen-1', 'middle', 22, 110, 0.083, [1500], 60, 'indoors')] },
  { id: 'rope-walk', name: 'Museum of the Rope Walk', area: 'harbour', ...LISBON, elevationM: 12, access: 'staff door, closed on Mondays', generators: [generator('gen-1', 'full', 18, 75, 0.03, [900], 220, 'indoors')] },
  { id: 'larkfield', name: 'Larkfield county archive', area: 'north', ...ROME, elevationM: 240, access: 'reading room desk, 09:00-17:00', generators: [generator('gen-1', 'full', 20, 90, 0.022, [1200, 1100], 250, 'indoors'), generator('gen-2', 'full', 20, 90, 0.038, [1400], 250, 'indoors')] },
  { id: 'mill-lane', name: 'Mill Lane car park', area: 'north', ...ROME, elevationM: 235, access: 'barrier code from the desk, height 2.0 m', generators: [generator('gen-1', 'slim', 40, 200, 0.105, [2600, 2500], 70, 'outdoors'), generator('gen-2', 'full', 40, 200, 0.09, [2700], 70, 'outdoors')] },
  { id: 'old-brewery', name: 'Old Brewery lofts', area: 'north', ...ROME, elevationM: 250, access: 'caretaker, ground floor left', generators: [generator('gen-1', 'counters', 16, 75, 0.068, [800], 120, 'indoors')] },
  { id: 'tin-whistle', name: 'Tin Whistle playhouse', area: 'north', ...ROME, elevationM: 244, access: 'stage door before noon', generators: [generator('gen-1', 'middle', 18, 80, 0.053, [1000], 160, 'indoors')] },
  { id: 'polar-pantry', name: 'Polar Pantry deep-freeze', area: 'valley', ...ROME, elevationM: 310, access: 'induction at reception, cold clothing there', generators: [generator('gen-1', 'motor', 36, 160, 0.075, [2600], 100, 'cold'), generator('gen-2', 'motor', 36, 160, 0.098, [2400, 1200], 100, 'cold'), generator('gen-3', 'middle', 36, 160, 0.068, [2200], 100, 'cold')] },
  { id: 'cloud-barn', name: 'Cloud Barn data hall', area: 'valley', ...ROME, elevationM: 305, access: 'two days notice, photo identity', generators: [generator('gen-1', 'full', 24, 120, 0.015, [1300], 300, 'indoors'), generator('gen-2', 'full', 24, 120, 0.015, [1300], 300, 'indoors')] },
  { id: 'seven-sheds', name: 'Seven Sheds logistics', area: 'valley', ...ROME, elevationM: 298, access: 'dock 3, hi-vis', generators: [generator('gen-1', 'motor', 50, 250, 0.12, [2800, 2700, 2600], 70, 'outdoors'), generator('gen-2', 'slim', 50, 250, 0.112, [2800, 2400], 70, 'outdoors')] },
  { id: 'apple-shed', name: 'Upper Orchard apple shed', area: 'valley', ...ROME, elevationM: 420, access: 'key box at the weighbridge', generators: [generator('gen-1', 'duty', 22, 100, 0.075, [1700], 80, 'cold')] },
  { id: 'glass-arcade', name: 'Glass Arcade', area: 'centre', ...ROME, elevationM: 230, access: 'service lift, before 10:00', generators: [generator('gen-1', 'middle', 26, 115, 0.06, [1600], 110, 'indoors'), generator('gen-2', 'slim', 26, 115, 0.045, [1500], 110, 'indoors')] },
  { id: 'paper-palace', name: 'Paper Palace library', area: 'centre', ...ROME, elevationM: 228, access: 'porter, ring twice', generators: [generator('gen-1', 'full', 20, 95, 0.03, [1250], 200, 'indoors')] },
  { id: 'tram-depot', name: 'Blue Line tram depot', area: 'centre', ...ROME, elevationM: 226, access: 'track safety card needed', generators: [generator('gen-1', 'motor', 44, 220, 0.128, [2700], 70, 'outdoors'), generator('gen-2', 'counters', 44, 220, 0.09, [2500], 70, 'outdoors')] },
  { id: 'maple-yard', name: 'Maple Yard cold chain', area: 'east yard', ...NEW_YORK, elevationM: 60, access: 'truck gate, weekdays', generators: [generator('gen-1', 'full', 32, 150, 0.083, [2500], 90, 'cold'), generator('gen-2', 'full', 32, 150, 0.068, [2300], 90, 'cold')] },
  { id: 'acorn-lot', name: 'Acorn Lot parking', area: 'east yard', ...NEW_YORK, elevationM: 64, access: 'attendant, level 1', generators: [generator('gen-1', 'slim', 38, 180, 0.098, [2600], 70, 'outdoors'), generator('gen-2', 'middle', 38, 180, 0.112, [2700], 70, 'outdoors')] },
  { id: 'button-works', name: 'Button Works studios', area: 'east yard', ...NEW_YORK, elevationM: 58, access: 'office on the second floor', generators: [generator('gen-1', 'duty', 16, 70, 0.053, [900], 140, 'indoors')] },
  { id: 'heron-hall', name: 'Heron Hall concert house', area: 'riverside', ...NEW_YORK, elevationM: 20, access: 'not on days of concerts', generators: [generator('gen-1', 'full', 22, 100, 0.038, [1400, 1000], 180, 'indoors')] },
  { id: 'sugar-dock', name: 'Sugar Dock warehouse', area: 'riverside', ...NEW_YORK, elevationM: 8, access: 'gate 2, sign in', generators: [generator('gen-1', 'motor', 46, 240, 0.105, [2800, 2600], 70, 'outdoors'), generator('gen-2', 'motor', 46, 240, 0.075, [2700], 70, 'outdoors')] },
  { id: 'clock-tower', name: 'Clock Tower offices', area: 'riverside', ...NEW_YORK, elevationM: 25, access: 'front desk', generators: [generator('gen-1', 'middle', 18, 80, 0.045, [1100], 150, 'indoors'), generator('gen-2', 'full', 18, 80, 0.038, [1050], 150, 'indoors')] },
  { id: 'salmon-pier', name: 'Salmon Pier freezer', area: 'far coast', ...ANCHORAGE, elevationM: 3, access: 'by boat on Tuesdays and Fridays', generators: [generator('gen-1', 'motor', 30, 140, 0.09, [2200], 85, 'cold'), generator('gen-2', 'slim', 30, 140, 0.075, [2000], 85, 'cold')] },
  { id: 'kelp-cannery', name: 'Kelp Cannery', area: 'far coast', ...ANCHORAGE, elevationM: 5, access: 'foreman, radio channel 6', generators: [generator('gen-1', 'motor', 34, 150, 0.112, [2400], 70, 'outdoors')] },
  { id: 'moss-hangar', name: 'Moss Field hangar', area: 'far coast', ...ANCHORAGE, elevationM: 30, access: 'airside pass', generators: [generator('gen-1', 'middle', 40, 200, 0.083, [2700], 60, 'outdoors'), generator('gen-2', 'full', 40, 200, 0.06, [2600], 60, 'outdoors')] },
  { id: 'far-light', name: 'Far Light station museum', area: 'far coast', ...ANCHORAGE, elevationM: 18, access: 'keeper, by telephone', generators: [generator('gen-1', 'full', 16, 70, 0.038, [800], 160, 'indoors')] },
];
