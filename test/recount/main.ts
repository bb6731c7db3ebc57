/**
 * Finished programs recounted: `npm run recount [-- name ...]` plans every case on every sample machine
 * and prints what the dense recount of its text finds. Ends with 1 if anything touches or breaks a limit.
 */
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { openPool } from '../../worker/pool.js';
import { loadShapes } from '../support/shapes.js';
import { cases, machineNames } from './cases.js';
import { type Curved, type Recounted, recount } from './recount.js';

const wanted = process.argv.slice(2);
const limbs = await loadShapes();
const solid = await loadSolidKernel();
const pool = openPool();
const sum = {
  programs: 0,
  refused: 0,
  blocks: 0,
  steps: 0,
  touches: 0,
  violations: 0,
  least: Infinity,
};

console.log(
  '| case | machine | blocks | steps | least clearance, mm | tip in the beads, mm | touches | beyond a limit |',
);
console.log('|---|---|---|---|---|---|---|---|');
for (const one of cases) {
  if (wanted.length > 0 && !wanted.some((w) => one.name.includes(w))) continue;
  for (const machine of machineNames) {
    const result = await recount(one, machine, limbs, solid, pool.run);
    if (typeof result === 'string') {
      sum.refused++;
      console.log(`| ${one.name} | ${machine} | refused: ${result} |`);
    } else print(one.name, machine, result);
  }
}
await pool.close();
console.log(
  `${sum.programs} programs, ${sum.refused} refused; ${sum.blocks} blocks, ${sum.steps} steps, least clearance ${sum.least.toFixed(2)} mm, ${sum.touches} touches, ${sum.violations} violations`,
);
if (sum.touches + sum.violations > 0) process.exitCode = 1;

function print(name: string, machine: string, r: Recounted): void {
  sum.programs++;
  sum.blocks += r.blocks;
  sum.steps += r.steps;
  sum.touches += r.count;
  sum.violations += r.violations.length;
  sum.least = Math.min(sum.least, r.least);
  const cells = [r.least.toFixed(2), r.dip.toFixed(2), r.count, r.violations.length];
  console.log(`| ${[name, machine, r.blocks, r.steps, ...cells].join(' | ')} |`);
  const { leastAt, worst, violations } = r;
  if (leastAt) console.log(`  least in line ${leastAt.line}: ${leastAt.between}`);
  for (const t of worst)
    console.log(`  line ${t.line}: ${t.between}, ${t.depth.toFixed(2)} mm deep`);
  for (const v of violations.slice(0, 5)) console.log(`  line ${v.line}: ${v.what}`);
  if (r.curved) printBeads(r.curved);
}

function printBeads({ open, overFill, checked, shape, bow }: Curved): void {
  const both = (own: number, check: number): string =>
    `${own.toFixed(1)} mm2 (the check: ${check.toFixed(1)})`;
  console.log(
    `  hangs in the open ${both(open, checked.open)}, over fill ${both(overFill, checked.overFill)}; ` +
      `laid ${((100 * shape.laid) / shape.part).toFixed(2)} % of the part's volume, ` +
      `shape error ${shape.p95.toFixed(3)} mm (95 %), ${shape.mean.toFixed(3)} mm in the mean; ` +
      `ways bow by ${bow.toFixed(3)} mm; touches by the check: ${checked.touches}`,
  );
}
