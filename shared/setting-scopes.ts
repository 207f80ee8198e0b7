/** Where words to the next shift are kept among the saved settings of the record store. */
export const HAND_OVER_SCOPE = 'hand-over-notes';
