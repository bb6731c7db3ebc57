/** Reads a part file in a test: the part, or the code of the Fault; anything else thrown fails the test. */
import { Fault } from '../../lib/base/fault.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { type PartOptions, type ReadPart, readPart } from '../../lib/formats/read-part.js';

const kernel = await loadSolidKernel();

export const read = (bytes: Uint8Array, options?: PartOptions): ReadPart =>
  readPart(bytes, 'part', kernel, options);

/** The Fault that reading throws. */
export function refused(bytes: Uint8Array, options?: PartOptions): Fault {
  try {
    read(bytes, options);
  } catch (error) {
    if (error instanceof Fault) return error;
    throw error;
  }
  throw new Error('the file was accepted');
}

export const codes = (part: ReadPart): string[] => part.healed.map((f) => f.code);
