/** A test piece: a part, the settings of its job, and how it is read. */
import type { Mesh } from '../base/mesh.js';

/** A test piece: a part that shows one error, with its job and how it is read. */
export interface TestPiece {
  /** Also the name of its files. */
  readonly name: string;
  /** One error that it shows. */
  readonly shows: string;
  /** Standing on z = 0 in the part frame, mm. */
  readonly mesh: Mesh;
  /** Whether the turning joint must stand near 0, so that the tilting one goes either way. */
  readonly held: boolean;
  /** Settings of the job beside part, machine and material. */
  readonly job: object;
  /** How to print, measure and read it, and which number to enter where. */
  readonly page: readonly string[];
}
