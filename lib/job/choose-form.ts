/**
 * The form of the layers (`layers.form`). With `auto` the job is planned in flat layers first; where they leave more
 * hanging than the regions' tolerance, also in curved ones, which are taken if they are clear, leave at most a stated
 * share of that and take at most a stated factor of the time. What was found and why it was or was not taken is a note.
 */
import { Fault, type Finding } from '../base/fault.js';
import type { SliceInput, SliceTools } from './input.js';
import { layOutCurved } from './curved-layout.js';
import { type JobLayout, layOut } from './lay-out.js';
import { LEAST_HANGING } from '../layers/bridge-findings.js';
import { surfaceArea } from '../mesh/measure.js';
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
  const inCurves = async (): Promise<PlannedJob> => {
    const laidOut = await layOutCurved(placed, input, tools, stages);
    return { laidOut, moves: await motionOf(laidOut, input, tools, stages), findings: [] };
  };
  if (form === 'field') return inCurves();
  const { laidOut, findings } = await layOut(placed, input, tools, stages);
  const flat = { laidOut, findings, moves: await motionOf(laidOut, input, tools, stages) };
  const left = openMm2(laidOut);
  const tolerated = input.job.regions.tolerance * surfaceArea(placed);
  if (form === 'flat' || left < Math.max(LEAST_HANGING, tolerated)) return flat;
  const stay = (why: string): PlannedJob => ({
    ...flat,
    findings: [...flat.findings, formNote(`the layers stay flat: ${why}`)],
  });
  let bent: PlannedJob;
  try {
    bent = await inCurves();
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    return stay(error.message);
  }
  const share = openMm2(bent.laidOut) / left;
  const factor = bent.moves.motion.totalSeconds / flat.moves.motion.totalSeconds;
  const found = `curved ones leave ${openMm2(bent.laidOut).toFixed(1)} mm2 hanging in the open, flat ones ${left.toFixed(1)} mm2, and take ${factor.toFixed(2)} times as long`;
  const wrong = bent.moves.findings.find(({ severity }) => severity === 'error');
  if (wrong) return stay(wrong.message);
  if (share > curved.better) return stay(`${found}; the limit is ${curved.better} of it`);
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

/** What hangs but for what lies between beads of fill, inside the part, mm2. */
const openMm2 = ({ hanging }: JobLayout): number => hanging.totalMm2 - hanging.overFillMm2;

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
