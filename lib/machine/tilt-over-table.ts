/**
 * How far the head may tilt with its tip at a height over the table: the inverse of the least tip height at a
 * tilt, tabulated. A tilt counts only if all smaller ones are free as well, since growth begins upright.
 */
import { DEG } from '../base/vector.js';

/** Step of the table, deg. */
const TILT_STEP = 0.1;

/**
 * @param leastTipHeight least height of the tip over the table at a tilt (rad), mm
 * @param most greatest tilt of the machine, rad
 * @returns the greatest tilt (rad) at a height over the table (mm)
 */
export function tiltOverTable(
  leastTipHeight: (tilt: number) => number,
  most: number,
): (height: number) => number {
  const steps = Math.floor(most / (TILT_STEP * DEG) + 1e-9);
  const needed = new Float64Array(steps + 1);
  for (let i = 0; i <= steps; i++) {
    const height = leastTipHeight(i * TILT_STEP * DEG);
    needed[i] = Math.max(height, i > 0 ? needed[i - 1]! : 0);
  }
  return (height) => {
    let [low, high] = [0, steps];
    while (low < high) {
      const middle = Math.ceil((low + high) / 2);
      if (needed[middle]! <= height) low = middle;
      else high = middle - 1;
    }
    return low * TILT_STEP * DEG;
  };
}
