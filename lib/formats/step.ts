/**
 * Reader of STEP files (ISO 10303-21, application protocols 203, 214 and 242): the bodies of all
 * products, in millimetres and in their places, as triangles within a stated deviation. A body is healed
 * by itself, for faces come without shared vertices; overlaps are left to the caller, who unites them.
 */
import { Fault, type Finding } from '../base/fault.js';
import { printable } from '../base/phrases.js';
import { type StepBody, tessellateStep } from '../kernel/step.js';
import type { Mesh } from '../mesh/mesh.js';
import { PlacedSolids, UNMOVED, checkExpansion } from './placed-solids.js';
import { type StepText, readStepText } from './step-text.js';

export interface StepMeshes {
  /** One closed mesh per body. */
  readonly meshes: Mesh[];
  readonly findings: Finding[];
}

/**
 * @param allow false refuses bodies that would need healing
 * @param deviation greatest distance of the triangles from the surfaces, mm
 * @throws Fault `step/...`, and of `heal`
 */
export function readStep(bytes: Uint8Array, allow: boolean, deviation: number): StepMeshes {
  const text = readStepText(bytes);
  const bodies = tessellateStep(bytes, deviation);
  if (bodies.length === 0) throw nothingIn(text);
  const triangles = bodies.reduce((n, body) => n + body.triangles.length / 3, 0);
  checkExpansion('step/too-large', triangles, bodies.length);
  const solids = new PlacedSolids<number>(allow);
  bodies.forEach((body, i) => solids.place(i, () => surfaceOf(body, i), nameOf(body, i), UNMOVED));
  const { meshes, findings } = solids;
  return { meshes, findings: [...oddities(text, bodies.length), ...findings] };
}

const nameOf = ({ name }: StepBody, i: number): string =>
  `body "${printable(name || String(i + 1), 60)}"`;

function surfaceOf(body: StepBody, i: number): StepBody {
  if (body.triangles.length > 0) return body;
  const message = `${nameOf(body, i)}: none of its faces can be made into triangles`;
  throw new Fault('step/unreadable', message);
}

const listed = (names: readonly string[]): string =>
  names
    .slice(0, 3)
    .map((name) => `"${printable(name, 60)}"`)
    .join(', ') + (names.length > 3 ? ` and ${names.length - 3} more` : '');

function nothingIn({ solids, otherFiles }: StepText): Fault {
  if (otherFiles.length === 0)
    return new Fault('step/no-solid', `the file states ${solids} solids, and 0 bodies can be read`);
  const message = `the parts of the assembly lie in other files, which are not read: ${listed(otherFiles)}`;
  return new Fault('step/external', message);
}

function oddities({ solids, hasLengthUnit, otherFiles }: StepText, bodies: number): Finding[] {
  const out: Finding[] = [];
  const warn = (code: string, message: string): void => {
    out.push({ code, severity: 'warning', message });
  };
  if (!hasLengthUnit)
    warn('step/no-unit', 'the file states no unit of length; it was read in millimetres');
  if (bodies < solids)
    warn('step/left-out', `the file states ${solids} solids, of which ${bodies} could be read`);
  if (otherFiles.length > 0)
    warn('step/other-files', `what lies in other files was left out: ${listed(otherFiles)}`);
  return out;
}
