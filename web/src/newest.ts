/** A state of an examination, as far as its order among others goes. */
export interface Stamped {
  readonly folder: string;
  readonly revision: number;
}

/**
 * Whether what the server told may take the place of what is shown. Answers overtake each other: one that was asked for
 * before a change and comes after it would put the page back, and no further event would say so.
 */
export function mayReplace(shown: Stamped | undefined, told: Stamped | undefined): boolean {
  return !shown || !told || told.folder !== shown.folder || told.revision >= shown.revision;
}
