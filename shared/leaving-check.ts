/** What one part of the check looked at. */
export const LEAVING_PARTS = ['switching', 'rest', 'run', 'feed', 'piping', 'nitrogen'] as const;
export type LeavingPart = (typeof LEAVING_PARTS)[number];

/** One sentence with numbers and units, and whether what it tells is as usual here. */
export type LeavingItem = { readonly part: LeavingPart; readonly state: 'as usual' | 'unlike usual' | 'not seen yet'; readonly says: string };

/**
 * "Before you leave": the last half hour of one generator held against what is normal of it. Never a proof of order.
 * `suspect`: what the unlike parts look like together; `null` when nothing was unlike usual.
 */
export type LeavingCheck = {
  readonly site: string;
  readonly generator: string;
  /** Device time of the first and last reading looked at; null where there was none. */
  readonly fromAt: string | null;
  readonly toAt: string | null;
  readonly verdict: 'unlike usual' | 'nothing unlike usual seen' | 'too little seen';
  readonly suspect: 'supply-shut' | 'bleed-open' | 'not-starting' | 'other' | null;
  /** What to look at before going, or that nothing was seen; one sentence. */
  readonly says: string;
  readonly items: readonly LeavingItem[];
  /** What this check has not seen yet, and when it could be. */
  readonly notSeen: readonly string[];
  readonly care: string;
};
