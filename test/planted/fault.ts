/** A fault that is planted in a finished program by its text alone, and where it must be found. */
import type { Text } from './text.js';

export interface Planted {
  readonly lines: readonly string[];
  /** First and last line at which it must be found. */
  readonly at: readonly [number, number];
  /** Layer that is wrong, for the table; 0: the whole region. */
  readonly layer: number;
  /** The machine file is wrong by so much instead, mm along Y. */
  readonly centre?: number;
}

export interface Fault {
  readonly name: string;
  /** Regions in which it is planted: the first and a later one; those with a tilt; one of curved layers. */
  readonly regions: 'any' | 'tilted' | 'curved';
  /** Why no check of the program alone can know it. */
  readonly needsPart?: string;
  /** Where it can be planted but not known in the first region or in a later one alone. */
  readonly needsPartIn?: 'first' | 'later';
  /** Codes that mean it, where others may come beside it or theirs come beside other faults. */
  readonly shownBy?: readonly string[];
  /** Why a print that has it is as good, so that the check need not find it. */
  readonly harmless?: string;
  /** @returns nothing where the region has no place for it */
  readonly plant: (text: Text, region: number) => Planted | undefined;
}
