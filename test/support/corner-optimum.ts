/**
 * What a sharp corner costs at least: the optimum of a linear program over a fine grid of time, solved by
 * HiGHS (University of Edinburgh). Its unknowns are place, speed, acceleration and jerk of every joint at
 * every instant; nothing of it is shared with lib/motion/timing.
 *
 * Joints come along the first leg at full path speed and leave along the second one. At each instant of the
 * first half the tip is within the tolerance of some point of the first leg, in the second half of the
 * second: root sum of squares of the linear joints, with the levers of the rotary ones added. Circles are
 * polygons around them, so the optimum is, if anything, too good.
 */
import highsModule from 'highs';

/** Its types are those of CommonJS, where the loader is the module's default. */
export const loadHighs = highsModule as unknown as typeof highsModule.default;

export interface OptimumJoint {
  /** Rates per mm of path before and behind the corner. */
  readonly before: number;
  readonly behind: number;
  /** mm or rad, and s. */
  readonly speed: number;
  readonly acceleration: number;
  readonly jerk: number;
  /** Length of path that a unit of the joint counts as, and by which a unit carries the tip at most, mm. */
  readonly weight: number;
  readonly lever: number;
  readonly linear: boolean;
}

export interface OptimumCorner {
  readonly joints: readonly OptimumJoint[];
  /** Path speed, mm/s. */
  readonly speed: number;
  /** How far the tip may stray, mm. */
  readonly tolerance: number;
}

/** Time of either half, in times that the joint with the greatest jump needs; intervals of both halves. */
const HALF = 2.5;
const GRID = 80;
/** Sides of the polygons: tangents of the tolerance and of the path speed. */
const TANGENTS = 16;
const SPEEDS = 32;

/** Solver of corners: seconds lost in each against running round it at full speed. */
export async function cornerSolver(): Promise<(corner: OptimumCorner) => number> {
  const highs = await loadHighs();
  return (corner) => {
    const { text, unit } = programOf(corner);
    const found = highs.solve(text, { output_flag: false });
    if (found.Status !== 'Optimal') throw new Error(`no optimum: ${found.Status}`);
    return found.ObjectiveValue * unit;
  };
}

/** The program in the solver's text, and the s that a unit of its time counts as. */
function programOf(corner: OptimumCorner): { readonly text: string; readonly unit: number } {
  const { joints, tolerance } = corner;
  const mean = Math.max(...joints.map((j) => j.jerk * j.weight));
  const unit = Math.cbrt(tolerance / mean);
  const v = (corner.speed * unit) / tolerance;
  const swing = Math.max(
    ...joints.map((j) => {
      const jump = Math.abs(j.behind - j.before) * corner.speed;
      return jump * j.jerk <= j.acceleration ** 2
        ? Math.sqrt(jump / j.jerk)
        : (jump / j.acceleration + j.acceleration / j.jerk) / 2;
    }),
  );
  const half = (HALF * swing) / unit;
  const h = (2 * half) / GRID;
  // Joints count in path length, lengths in tolerances.
  const scaled = joints.map((j) => ({
    u: j.before * j.weight,
    w: j.behind * j.weight,
    speed: (j.speed * j.weight * unit) / tolerance,
    acceleration: (j.acceleration * j.weight * unit ** 2) / tolerance,
    jerk: (j.jerk * j.weight * unit ** 3) / tolerance,
    lever: j.linear ? 1 : j.lever / j.weight,
    linear: j.linear,
  }));
  const rows: string[] = [];
  const bounds: string[] = ['lead free', 'lag free'];
  const put = (terms: readonly Term[], relation: '<=' | '=' | '>=', value: number): void => {
    const words = terms
      .filter(([x]) => Math.abs(x) > 1e-12)
      .map(([x, name]) => `${x < 0 ? '-' : '+'} ${Math.abs(x)} ${name}`);
    rows.push(`${words.join(' ')} ${relation} ${value}`);
  };
  scaled.forEach((joint, j) => {
    for (let k = 0; k <= GRID; k++) {
      bounds.push(`q${j}_${k} free`);
      bounds.push(`${-joint.speed} <= v${j}_${k} <= ${joint.speed}`);
      bounds.push(`${-joint.acceleration} <= a${j}_${k} <= ${joint.acceleration}`);
      if (k === GRID) break;
      bounds.push(`${-joint.jerk} <= j${j}_${k} <= ${joint.jerk}`);
      const [q, s, a, jerk] = ['q', 'v', 'a', 'j'].map((x) => `${x}${j}_${k}`) as Four;
      const [q1, s1, a1] = ['q', 'v', 'a'].map((x) => `${x}${j}_${k + 1}`) as Four;
      // Exact for a jerk that is constant over the interval.
      put([[1, a1], [-1, a], [-h, jerk]], '=', 0); // prettier-ignore
      put([[1, s1], [-1, s], [-h, a], [-(h * h) / 2, jerk]], '=', 0); // prettier-ignore
      put([[1, q1], [-1, q], [-h, s], [-(h * h) / 2, a], [-(h ** 3) / 6, jerk]], '=', 0); // prettier-ignore
    }
    // At the start where full speed would have brought it `lead` earlier to the corner, and so at the end.
    put([[1, `q${j}_0`], [-joint.u * v, 'lead']], '=', -joint.u * v * half); // prettier-ignore
    put([[1, `q${j}_${GRID}`], [joint.w * v, 'lag']], '=', joint.w * v * half); // prettier-ignore
    put([[1, `v${j}_0`]], '=', joint.u * v);
    put([[1, `v${j}_${GRID}`]], '=', joint.w * v);
    put([[1, `a${j}_0`]], '=', 0);
    put([[1, `a${j}_${GRID}`]], '=', 0);
  });
  for (let k = 0; k <= GRID; k++) {
    if (2 * k <= GRID) keepTo(put, scaled, k, 'b', (joint) => -joint.u);
    if (2 * k >= GRID) keepTo(put, scaled, k, 'c', (joint) => joint.w);
    boundPathSpeed(put, scaled, k, v);
  }
  boundCut(put, scaled, v);
  const text = `Minimize\n obj: lead + lag\nSubject To\n${rows.map((r, i) => ` r${i}: ${r}`).join('\n')}\nBounds\n${bounds.map((b) => ` ${b}`).join('\n')}\nEnd\n`;
  return { text, unit };
}

type Term = readonly [number, string];
type Four = [string, string, string, string];
type Put = (terms: readonly Term[], relation: '<=' | '=' | '>=', value: number) => void;

interface ScaledJoint {
  readonly u: number;
  readonly w: number;
  readonly lever: number;
  readonly linear: boolean;
}

/** At node k within the tolerance of the point at `name` >= 0 along a leg away from the corner. */
function keepTo(
  put: Put,
  joints: readonly ScaledJoint[],
  k: number,
  name: string,
  away: (joint: ScaledJoint) => number,
): void {
  const rotary = joints.map((_, j) => j).filter((j) => !joints[j]!.linear);
  const linear = joints.map((_, j) => j).filter((j) => joints[j]!.linear);
  const off = (j: number, by: number): Term[] => [
    [by, `q${j}_${k}`],
    [-by * away(joints[j]!), `${name}${k}`],
  ];
  for (let t = 0; t < TANGENTS; t++) {
    const angle = (2 * Math.PI * t) / TANGENTS;
    const part = [Math.cos(angle), Math.sin(angle)];
    for (let signs = 0; signs < 2 ** rotary.length; signs++) {
      const terms = linear.flatMap((j, i) => off(j, part[i] ?? 0));
      rotary.forEach((j, i) =>
        terms.push(...off(j, joints[j]!.lever * ((signs >> i) & 1 ? 1 : -1))),
      );
      put(gathered(terms), '<=', 1);
    }
  }
}

/** Terms of one unknown added up. */
function gathered(terms: readonly Term[]): Term[] {
  const sums = new Map<string, number>();
  for (const [x, name] of terms) sums.set(name, (sums.get(name) ?? 0) + x);
  return [...sums].map(([name, x]) => [x, name] as const);
}

/** Tangents of the circle of the path speed in the plane of both legs. */
function boundPathSpeed(put: Put, joints: readonly ScaledJoint[], k: number, v: number): void {
  const along = joints.reduce((sum, j) => sum + j.u * j.w, 0);
  const across = joints.map((j) => j.w - along * j.u);
  const size = Math.hypot(...across);
  for (let t = 0; t < SPEEDS; t++) {
    const angle = (2 * Math.PI * t) / SPEEDS;
    put(
      joints.map((joint, j) => [
        Math.cos(angle) * joint.u + (Math.sin(angle) * across[j]!) / size,
        `v${j}_${k}`,
      ]),
      '<=',
      v,
    );
  }
}

/**
 * In corners sharper than a right angle no more of a leg is cut off than brings the path past the corner at
 * the root of two tolerances, as in a right angle: by legs that lie close together it could turn far before.
 */
function boundCut(put: Put, joints: readonly ScaledJoint[], v: number): void {
  const along = joints.reduce((sum, j) => sum + j.u * j.w, 0);
  if (along >= 0 || !(v > 0)) return;
  const shift = joints.reduce((sum, j) => sum + (j.linear ? (j.w - j.u) ** 2 : 0), 0);
  const turned = joints.reduce((sum, j) => sum + (j.linear ? 0 : Math.abs(j.w - j.u) * j.lever), 0);
  const cut = Math.SQRT2 / (Math.sqrt(shift) + turned);
  const square = 1 - along * along;
  for (let k = 0; k <= GRID; k++) {
    // What is done of the second leg, and left of the first: q = -R u + P w, solved for P and R.
    const done = joints.map((joint, j): Term => [
      (joint.w - along * joint.u) / square,
      `q${j}_${k}`,
    ]);
    const left = joints.map((joint, j): Term => [
      (along * joint.w - joint.u) / square,
      `q${j}_${k}`,
    ]);
    if (2 * k <= GRID) put(done, '<=', cut);
    if (2 * k >= GRID) put(left, '<=', cut);
  }
}
