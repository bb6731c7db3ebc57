/**
 * What F measures. RS-274/NGC: the length of a straight block is that of its X Y Z motion; if there
 * is none, that of its U V W motion; if there is none either, that of its A B C motion, in degrees.
 * An inverse-time F times this length gives the rate, and an interpreter keeps that rate at 0.1
 * units a minute or more (checked against the published worked examples in the tests).
 */

/** Least rate of an inverse-time block, units a minute; the interpreter raises what is less. */
export const LEAST_RATE = 0.1;

/** Groups in the order in which they count. */
export const AxisGroup = { xyz: 0, uvw: 1, abc: 2, none: 3 } as const;
export type AxisGroup = (typeof AxisGroup)[keyof typeof AxisGroup];

export function groupOf(letter: string): AxisGroup {
  if ('XYZ'.includes(letter)) return AxisGroup.xyz;
  if ('UVW'.includes(letter)) return AxisGroup.uvw;
  if ('ABC'.includes(letter)) return AxisGroup.abc;
  return AxisGroup.none;
}

/** Squared length per group, filled by `add`, and the group that counts. */
export class RateLength {
  readonly #square = new Float64Array(4);

  clear(): void {
    this.#square.fill(0);
  }

  /** @param by mm for a linear axis or the filament, degrees for a rotary one */
  add(group: AxisGroup, by: number): void {
    this.#square[group]! += by * by;
  }

  /** The first group that moves; `none` stands for a filament word that is no axis letter. */
  group(): AxisGroup {
    for (const g of [AxisGroup.xyz, AxisGroup.uvw, AxisGroup.abc] as const)
      if (this.#square[g]! > 0) return g;
    return AxisGroup.none;
  }

  length(): number {
    return Math.sqrt(this.#square[this.group()]!);
  }
}
