/** Greatest lengths, in characters, of the texts in files that people write. */
import { z } from 'zod';

/** A path of a Linux file, of its 4096 bytes with the end (limits.h). */
export const LONGEST_PATH = 4095;

/** Of a machine, a material, a motor, an obstacle: stands in comments, lists and messages. */
export const aName = z.string().min(1).max(200);
/** Free text. */
export const aNote = z.string().max(10_000);
/** A line of a program: as long as an interpreter reads (see program/text.ts). */
export const aLine = z.string().max(256);
export const aPath = z.string().max(LONGEST_PATH);
/** Where the schema of a file lies, for editors. */
export const anAddress = z
  .string()
  .max(2000)
  .describe('where the schema of this file lies, for editors; nothing here reads it');

export const unusualKeys = z
  .array(z.string().max(200))
  .max(1000)
  .optional()
  .describe(
    'keys of numbers in this file that are meant as they stand although common practice is otherwise, such as "nozzle.diameter"',
  );

export const guessedKeys = z
  .record(z.string().max(200), aNote)
  .optional()
  .describe(
    'values of this file that are not known but assumed, by their keys, such as "head.joints.0.speed", each with where it is from; every job says so until it is measured and struck out here',
  );
