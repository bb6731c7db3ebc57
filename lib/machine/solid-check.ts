/** What a schema cannot say of a solid: boxes rise along every axis, cylinders have a length. */
import { type Vec3, length, sub } from '../base/vector.js';
import type { Solid } from './shapes.js';
import type { Refuse } from './texts.js';

export function checkBox(box: { from: Vec3; to: Vec3 }, key: string, refuse: Refuse): void {
  box.from.forEach((low, c) => {
    const high = box.to[c]!;
    if (low < high) return;
    const axis = 'XYZ'[c]!;
    refuse('box', `the box runs along ${axis} from ${low} mm to ${high} mm, it must rise`, key);
  });
}

/** @param what what the solid is, for the message, such as `obstacle "pillar"` */
export function checkSolid(solid: Solid, what: string, key: string, refuse: Refuse): void {
  if (solid.shape === 'box') checkBox(solid, `${key}.solid`, refuse);
  else if (length(sub(solid.to, solid.from)) < 1e-9) {
    refuse('cylinder', `${what} is a cylinder of no length`, `${key}.solid`);
  }
}
