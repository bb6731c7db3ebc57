/**
 * The form of the layers (`layers.form`). With `auto` the job is planned in flat layers first; where they leave more
 * hanging than the regions' tolerance, or stairs on skin that is to be followed, also in curved ones, unless their field
 * leaves more by facets, which is known long before they are sliced. Those are taken if they are clear (no nearer than
 * half the clearance, or than flat ones come), take at most a stated factor of the time, and leave at most a stated share
 * of what hangs, or no more than flat ones where they follow skin. What was found and why it was or was not taken is a
 * note.
 */
import { Fault, type Finding } from '../base/fault.js';
import type { JudgedField } from '../field/judge.js';
import type { SliceInput, SliceTools } from './input.js';
import { layOutCurved } from './curved-layout.js';
import { type JobLayout, layOut } from './lay-out.js';
import { LEAST_HANGING } from '../layers/bridge-findings.js';
import { areaNormals, surfaceArea } from '../mesh/measure.js';
import type { Mesh } from '../mesh/mesh.js';
import { type PlannedMotion, planMotionBy } from '../motion/plan-motion.js';
import { DEG } from '../base/vector.js';
import type { CurvedReport } from '../report/report.js';
import type { Stages } from './stages.js';

/** A job planned up to its motion. */
export interface PlannedJob {
  readonly laidOut: JobLayout;
  readonly moves: PlannedMotion;
  readonly findings: readonly Finding[];
  /** What flat layers would have given, where curved ones were taken instead. */
  readonly flat?: NonNullable<CurvedReport['flat']>;
}

/**
 * @param placed the part on the table
 * @param input with the machine as motion is planned on it
 * @throws Fault with a code of the stage that refuses; the signal's reason when cancelled
 */
export async function planJob(
  placed: Mesh,
  input: SliceInput,
  tools: SliceTools,
  stages: Stages,
): Promise<PlannedJob> {
  const { form, curved } = input.job.layers;
  const inCurves = async (look?: (field: JudgedField) => void): Promise<PlannedJob> => {
    const laidOut = await layOutCurved(placed, input, tools, stages, look);
    return { laidOut, moves: await motionOf(laidOut, input, tools, stages), findings: [] };
  };
  if (form === 'field') return inCurves();
  const { laidOut, findings } = await layOut(placed, input, tools, stages);
  const flat = { laidOut, findings, moves: await motionOf(laidOut, input, tools, stages) };
  if (form === 'flat') return flat;
  const left = openMm2(laidOut);
  const tolerated = Math.max(LEAST_HANGING, input.job.regions.tolerance * surfaceArea(placed));
  const followed = skinToFollow(placed, curved.follow * DEG);
  const follows = followed > tolerated;
  if (left < tolerated && !follows) return flat;
  const stay = (why: string): PlannedJob => ({
    ...flat,
    findings: [...flat.findings, formNote(`the layers stay flat: ${why}`)],
  });
  let bent: PlannedJob;
  try {
    const flatMm2 = laidOut.plan.unsupported.plannedMm2;
    bent = await inCurves(follows ? undefined : (field) => refuseHopeless(flatMm2, field));
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    return stay(error.message);
  }
  const bentLeft = openMm2(bent.laidOut);
  const factor = bent.moves.motion.totalSeconds / flat.moves.motion.totalSeconds;
  const following = follows ? `follow ${followed.toFixed(1)} mm2 of skin, ` : '';
  const found = `curved ones ${following}leave ${bentLeft.toFixed(1)} mm2 hanging in the open, flat ones ${left.toFixed(1)} mm2, and take ${factor.toFixed(2)} times as long`;
  const wrong = bent.moves.findings.find(({ severity }) => severity === 'error');
  if (wrong) return stay(wrong.message);
  const near = tooNear(bent.moves, flat.moves, input.machine.clearance);
  if (near) return stay(near);
  const most = follows ? left + tolerated : curved.better * left;
  if (bentLeft > most) return stay(`${found}; the limit is ${most.toFixed(1)} mm2`);
  if (factor > curved.slower) return stay(`${found}; the limit is ${curved.slower} times`);
  return {
    ...bent,
    findings: [formNote(`the layers are curved: ${found}`)],
    flat: {
      seconds: flat.moves.motion.totalSeconds,
      unsupportedFromLayersMm2: laidOut.hanging.totalMm2,
    },
  };
}

/**
 * Refuses a field that leaves more than flat layers by facets, mm2: by layers it would hardly leave much less.
 * @throws Fault `layers/form`
 */
export function refuseHopeless(flatMm2: number, { hangingMm2 }: Pick<JudgedField, 'hangingMm2'>) {
  if (hangingMm2 <= flatMm2) return;
  throw new Fault(
    'layers/form',
    `by facets curved ones leave ${hangingMm2.toFixed(1)} mm2 hanging, flat ones ${flatMm2.toFixed(1)} mm2`,
  );
}

/** Curved layers that come nearer than this share of the clearance, and than flat ones, are not taken by themselves. */
const NEAR_SHARE = 0.5;

/** @returns why curved layers are not clear enough; undefined where they are */
export function tooNear(
  { leastGap }: Pick<PlannedMotion, 'leastGap'>,
  flat: Pick<PlannedMotion, 'leastGap'>,
  clearance: number,
): string | undefined {
  const limit = Math.min(NEAR_SHARE * clearance, flat.leastGap?.gap ?? Infinity);
  if (!leastGap || leastGap.gap >= limit) return undefined;
  const [one, other] = leastGap.between;
  return `in curved ones ${one} and ${other} come within ${leastGap.gap.toFixed(2)} mm; the limit is ${limit.toFixed(2)} mm`;
}

/** What hangs but for what lies between beads of fill, inside the part, mm2. */
const openMm2 = ({ hanging }: JobLayout): number => hanging.totalMm2 - hanging.overFillMm2;

/** Skin nearer to level counts as level, rad: flat layers make no stairs of it. */
const LEVEL = 0.5 * DEG;

/** Skin that looks up within an angle of level but is not level, mm2. */
function skinToFollow(mesh: Mesh, within: number): number {
  if (within === 0) return 0;
  const normals = areaNormals(mesh);
  let sum = 0;
  for (let i = 0; i < normals.length; i += 3) {
    const area = Math.hypot(normals[i]!, normals[i + 1]!, normals[i + 2]!);
    const cosine = normals[i + 2]! / area;
    if (cosine > Math.cos(within) && cosine < Math.cos(LEVEL)) sum += area;
  }
  return sum;
}

const formNote = (message: string): Finding => ({
  code: 'layers/form',
  severity: 'note',
  message,
});

function motionOf(
  { plan, layers, paths, sequence }: JobLayout,
  { machine, material, job }: SliceInput,
  tools: SliceTools,
  stages: Stages,
): Promise<PlannedMotion> {
  return stages.later('motion', () =>
    planMotionBy(
      (ask) => tools.run({ kind: 'nearest', ...ask }, tools.watch?.signal),
      {
        machine,
        material,
        regions: plan.regions,
        layersOf: layers,
        pathsOf: paths.map((p) => p.paths),
        sequence,
        rules: job.motion,
        lean: job.layers.curved.lean * DEG,
      },
      tools.watch,
    ),
  );
}
