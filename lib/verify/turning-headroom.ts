/**
 * The head against table and deposit while it turns as it lays. A height map serves one direction only, so here the
 * head is held cube by cube against what is laid, as it is drawn, at looks along the path: as far apart as it has room
 * about it, and no closer than TURN_LOOK. What it meets on less of its way than that is not seen.
 */
import { type Frame, applyPoint, compose, inverse } from '../base/frame.js';
import { type Vec3, length, pointAt, sub } from '../base/vector.js';
import { headPoints } from '../machine/head.js';
import { machineFromHead, machineFromPart } from '../machine/joint-chain.js';
import type { Machine } from '../machine/machine.js';
import { HeadContact, type HeadTouch } from './contact.js';
import type { Grids } from './grids.js';
import type { Trace } from './trace.js';

/** Least motion of the head between two looks, mm. */
const TURN_LOOK = 0.75;

export class TurningHeadroom {
  readonly touches: HeadTouch[] = [];
  readonly #trace: Trace;
  readonly #machine: Machine;
  readonly #contact: HeadContact;
  /** Farthest place of the head from its tip, mm. */
  readonly #reach: number;
  readonly #outline: (radius: number) => number;
  readonly #joints: Float64Array;
  /** The last look: where the head was, and how far it may move from there, mm. */
  #last: { readonly partFromHead: Frame; readonly gap: number } | undefined;

  /**
   * @param room how much higher than it stands the head is taken, mm: a nozzle rubs over what is laid at its level
   * @param outline least height over the tip at which the head is as wide as a radius, mm
   */
  constructor(
    trace: Trace,
    machine: Machine,
    grids: Grids,
    room: number,
    outline: (radius: number) => number,
  ) {
    this.#trace = trace;
    this.#machine = machine;
    this.#contact = new HeadContact(machine, grids, room);
    this.#reach = Math.max(...headPoints(machine).map((p) => Math.hypot(p.above, p.radius)));
    this.#outline = outline;
    this.#joints = new Float64Array(machine.joints.length);
  }

  /** Forgets the last look. */
  forget(): void {
    this.#last = undefined;
  }

  /** Judges the path of block b, before its bead is laid; reports one touch of a block. */
  before(b: number): void {
    const { direction } = this.#trace;
    const turn = length(sub(pointAt(direction, b), pointAt(direction, b - 1)));
    const moved = this.#trace.length[b]! + turn * this.#reach;
    const looks = Math.max(1, Math.ceil(moved / TURN_LOOK));
    for (let n = 1; n <= looks; n++) if (this.#look(b, n / looks)) return;
  }

  #look(b: number, t: number): boolean {
    const { joints, jointCount: n } = this.#trace;
    for (let j = 0; j < n; j++) {
      const before = joints[b * n - n + j]!;
      this.#joints[j] = before + t * (joints[b * n + j]! - before);
    }
    const partFromHead = compose(
      inverse(machineFromPart(this.#machine, this.#joints)),
      machineFromHead(this.#machine, this.#joints),
    );
    const last = this.#last;
    if (last && this.#moved(last.partFromHead, partFromHead) < Math.max(last.gap, TURN_LOOK)) {
      return false;
    }
    const { gap, touch } = this.#contact.look(this.#joints);
    this.#last = { partFromHead, gap };
    if (!touch) return false;
    const [x, y, above] = applyPoint(inverse(partFromHead), touch.point);
    const depth = Math.max(0, above - this.#outline(Math.hypot(x, y)));
    this.touches.push({ block: b, depth, point: touch.point, above, what: touch.what });
    return true;
  }

  /** Farthest that any place of the head lies from where it was, mm. */
  #moved(a: Frame, b: Frame): number {
    const at = (f: Frame): Vec3 => applyPoint(f, [0, 0, 0]);
    let turned = 0;
    for (const k of [0, 1, 2, 4, 5, 6, 8, 9, 10]) turned += (a[k]! - b[k]!) ** 2;
    return length(sub(at(a), at(b))) + this.#reach * Math.sqrt(turned / 2);
  }
}
