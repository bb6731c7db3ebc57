/**
 * A whole job of curved layers, recounted from its text: nothing touches, no limit is broken, the part's shape is there,
 * and what hangs is what the check says. `npm run recount -- curved` does the same on every sample machine.
 */
import { expect, test } from 'vitest';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { DEG } from '../../lib/base/vector.js';
import { jobOf, runJob, sampleJson } from '../support/jobs.js';
import { dome, elbow, loadShapes } from '../support/shapes.js';
import { curvedJob } from './cases.js';
import { errorOnTop, recount } from './recount.js';

test('a bend of a rod', async () => {
  const build = (): ReturnType<typeof elbow> => elbow(11, 3);
  const one = { name: 'bend', build, job: curvedJob(1), curved: true } as const;
  const limbs = await loadShapes();
  const result = await recount(one, 'table-table-ac', limbs, await loadSolidKernel());
  if (typeof result === 'string') throw new Error(result);
  expect(result.worst).toEqual([]);
  expect(result.violations).toEqual([]);
  expect(result.dip).toBeLessThan(0.3);
  const { open, overFill, checked, shape, bow } = result.curved!;
  expect(checked.touches).toBe(0);
  // Laid solid: as much as the part holds, within 1 %.
  expect(Math.abs(shape.laid / shape.part - 1)).toBeLessThan(0.01);
  // Half of a layer of 0.2 mm, and what the round flanks of beads leave open.
  expect(shape.p95).toBeLessThan(0.12);
  // Of 350 mm2 of surface: both find next to nothing.
  expect(Math.abs(open - checked.open)).toBeLessThan(3);
  expect(Math.abs(overFill - checked.overFill)).toBeLessThan(3);
  // The chord error that jobs keep unless told otherwise.
  expect(bow).toBeLessThan(0.0105);
});

/*
 * A cap of a ball of R 25, 3 mm high: up to 28 deg from level. Flat layers of 0.2 mm make stairs of it, whose error is
 * half a layer by nature; layers that follow the skin have next to none. At most half of it is asked for.
 */
test('a shallow top without stairs', async () => {
  const part = dome(25, 3, 2, 180, 40);
  const machine = 'table-table-ac';
  const file = sampleJson(`machines/${machine}.json`) as Parameters<typeof errorOnTop>[1];
  const inForm = async (form: string): Promise<{ top: number; follows: boolean }> => {
    const layers = { form, curved: { follow: 25 } };
    const { program, plan, report } = await runJob(
      jobOf(part, machine, { layers, check: { run: false }, page: false }),
    );
    const top = errorOnTop(program.join(''), file, plan.part, 24 * DEG);
    return { top, follows: report.regions[0]!.curved !== undefined };
  };
  const [flat, followed] = [await inForm('flat'), await inForm('field')];
  expect([flat.follows, followed.follows]).toEqual([false, true]);
  expect(flat.top).toBeGreaterThan(0.05);
  expect(followed.top).toBeLessThan(flat.top / 2);
});
