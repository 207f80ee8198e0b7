/** What is given out on paper: what a technician did and left behind, and what an owner is told about a span of time. */
export const RECORD_KINDS = ['visit-sheet', 'owner-report'] as const;
export type RecordKind = (typeof RECORD_KINDS)[number];

/**
 * A record as it was issued. It is never changed: what is known better later is issued as the next revision of the same number.
 * `subject` says what it is about (`visit <id>`, `owner <site> <from> <to>`), so that issuing it again finds its number.
 */
export type IssuedRecord = {
  readonly number: number;
  /** Counts from 1. */
  readonly revision: number;
  readonly kind: RecordKind;
  readonly subject: string;
  readonly site: string;
  readonly generators: readonly string[];
  readonly title: string;
  readonly issuedAt: string;
  readonly issuedBy: string;
};

/** The record itself, as bytes that stay: a page to print, and its figures for a spreadsheet. */
export type RecordDocument = { readonly html: string; readonly csv: string };

/** A photo of a visit, made small on the phone. The id is given there, so that sending it twice keeps one. */
export type VisitPhoto = { readonly visit: string; readonly id: string; readonly generator: string; readonly at: string; readonly says: string; readonly jpegBase64: string };
/** A photo without its picture, for lists. */
export type VisitPhotoRow = Omit<VisitPhoto, 'jpegBase64'>;
