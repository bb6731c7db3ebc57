/** Joints outside their travel, in words, and what a job does about it: refuse or report. */
import { Fault, type Finding } from '../../base/fault.js';
import { DEG } from '../../base/vector.js';
import { type Violation, limitOf } from '../../machine/inverse.js';
import type { Machine } from '../../machine/machine.js';

/** Every joint that leaves its travel. */
export function violationsOf(machine: Machine, joints: ArrayLike<number>): Violation[] {
  return machine.joints.flatMap((joint, i) => {
    const limit = limitOf(joint, joints[i]!);
    return limit === undefined ? [] : [{ joint: i, value: joints[i]!, limit }];
  });
}

/** "joint Z would have to stand at 310.2 mm, its limit is 250 mm" */
export function spell(machine: Machine, v: Violation): string {
  const joint = machine.joints[v.joint]!;
  const [size, unit] = joint.kind === 'rotary' ? [DEG, 'deg'] : [1, 'mm'];
  const show = (x: number): string => Number((x / size).toFixed(3)).toString();
  return `joint ${joint.letter} would have to stand at ${show(v.value)} ${unit}, its limit is ${show(v.limit)} ${unit}`;
}

type Choice = 'refuse' | 'report';

/** What a job decides about. */
export interface Choices {
  /** A joint leaves its travel. */
  readonly outOfTravel: Choice;
  /** Two bodies touch, or nothing shows that they do not. */
  readonly touch: Choice;
  /** Two bodies come nearer than the clearance. */
  readonly tooNear: Choice;
}

/** Collects what may end the job or be reported, by the job's choice. */
export class Complaints {
  findings: Finding[] = [];
  readonly #choices: Choices;

  constructor(choices: Choices) {
    this.#choices = choices;
  }

  /** @throws Fault with the same code and place, if the job is to be refused */
  error(about: keyof Choices, code: string, message: string, at: NonNullable<Finding['at']>): void {
    if (this.#choices[about] === 'refuse') throw new Fault(code, message, at);
    const severity = about === 'tooNear' ? 'warning' : 'error';
    this.findings.push({ code, severity, message, at });
  }

  add(finding: Finding): void {
    this.findings.push(finding);
  }

  /** Blocks have gone elsewhere. @param at where each has gone */
  renumber(at: Uint32Array): void {
    this.findings = this.findings.map((finding) => {
      const block = finding.at?.block;
      return block === undefined
        ? finding
        : { ...finding, at: { ...finding.at, block: at[block]! } };
    });
  }
}
