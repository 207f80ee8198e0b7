import { type FaultKind, means, severities } from './fault.ts';

/** The pressure switch has been turned, or creeps: the whole band moves. */
export const setPointChanged: FaultKind = {
  cause: 'set-point-changed',
  variants: {
    up: { measure: 'kPa', severities: severities(means(10, 'a touch'), means(30, 'seen on the gauge'), means(60, 'half a bar'), means(100, 'a whole bar')), apply: (dep, size) => void (dep.bandShiftKPa += size) },
    down: { measure: 'kPa', severities: severities(means(10, 'a touch'), means(30, 'seen on the gauge'), means(60, 'half a bar'), means(100, 'a whole bar')), apply: (dep, size) => void (dep.bandShiftKPa -= size) },
  },
};
