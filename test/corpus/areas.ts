/**
 * Closed forms for what hangs: areas whose outward normal n has n.z < -sin(theta), mm2, theta the
 * steepest self-supporting angle from +Z, radians. They follow from the surfaces themselves, so no
 * code of the library stands behind them. An integral without elementary form is summed by Simpson's
 * rule in 2000 steps.
 */
const { PI, acos, cos, sin, hypot } = Math;

export const sphere = (R: number, theta: number): number => 2 * PI * R * R * (1 - sin(theta));

/** Skin of a cylinder whose axis leans by alpha from +Z; level if alpha is pi / 2. Ends not counted. */
export const cylinder = (r: number, length: number, alpha: number, theta: number): number =>
  alpha <= theta ? 0 : 2 * r * length * acos(sin(theta) / sin(alpha));

/** Torus whose axis is +Z. */
export const torus = (R: number, r: number, theta: number): number =>
  2 * PI * R * r * (PI - 2 * theta);

/**
 * Torus whose axis is level. With v around the section (0 outermost) and u around the ring, n.z is
 * cos v sin u; the outer and the inner half of the section together give 4 R r acos(s / cos v) dv.
 */
export const torusUpright = (R: number, r: number, theta: number): number =>
  simpson(theta - PI / 2, PI / 2 - theta, (v) => 4 * R * r * angleOf(sin(theta) / cos(v)));

/** Whole side of a regular n-gon frustum with its narrow end down: trapezoids of slant height k. */
export function frustumSide(lower: number, upper: number, height: number, n: number): number {
  const apothem = (upper - lower) * cos(PI / n);
  return n * (lower + upper) * sin(PI / n) * hypot(height, apothem);
}

/**
 * Bend of a pipe that turns by a quarter from +Z to level: skin (`outwards`) or bore. Where it has
 * turned by w the strip that hangs is 2 acos(s / sin w) wide, on the inside of the bend for the skin
 * and on its outside for the bore.
 */
export const bend = (R: number, r: number, theta: number, outwards: boolean): number =>
  simpson(theta, PI / 2, (w) => {
    const half = angleOf(sin(theta) / sin(w));
    return 2 * r * (R * half - (outwards ? r : -r) * sin(half));
  });

/** Round arch of radius r over a depth. */
export const soffit = (r: number, depth: number, theta: number): number =>
  2 * r * depth * (PI / 2 - theta);

/** Area of a regular n-gon with its corners on a circle. */
export const polygon = (r: number, n: number): number => (n / 2) * r * r * sin((2 * PI) / n);

const angleOf = (cosine: number): number => acos(Math.min(1, cosine));

function simpson(from: number, to: number, f: (x: number) => number): number {
  const steps = 2000;
  const h = (to - from) / steps;
  let sum = f(from) + f(to);
  for (let i = 1; i < steps; i++) sum += (i % 2 ? 4 : 2) * f(from + i * h);
  return (sum * h) / 3;
}
