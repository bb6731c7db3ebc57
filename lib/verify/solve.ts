/** Three linear equations by Cramer's rule. */
import type { Vec3 } from '../base/vector.js';

/** Row after row. */
export type Mat3 = ArrayLike<number>;

export function solve3(m: Mat3, right: Vec3): Vec3 {
  const whole = determinant(m);
  return [0, 1, 2].map((c) => {
    const changed = Array.from({ length: 9 }, (_, i) =>
      i % 3 === c ? right[(i - c) / 3]! : m[i]!,
    );
    return determinant(changed) / whole;
  }) as unknown as Vec3;
}

const determinant = (m: Mat3): number =>
  m[0]! * (m[4]! * m[8]! - m[5]! * m[7]!) -
  m[1]! * (m[3]! * m[8]! - m[5]! * m[6]!) +
  m[2]! * (m[3]! * m[7]! - m[4]! * m[6]!);
