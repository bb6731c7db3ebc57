/** The command calibrate, whole: plan, readings of a synthetic machine, fit, measured machine file. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { parse } from '../../lib/base/schema.js';
import { DEG } from '../../lib/base/vector.js';
import { contact, downward } from '../../lib/calibrate/touch-contact.js';
import { planFile, readingsText } from '../../lib/calibrate/touch-files.js';
import { modelOf, stateAt } from '../../lib/calibrate/deviation-model.js';
import { targetFrom } from '../../lib/calibrate/targets.js';
import { forward } from '../../lib/machine/forward.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { errorsOf, normals, sampleMachine } from '../calibrate/machines.js';

const root = resolve('.');
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-calibrate-'));
afterAll(() => rmSync(folder, { recursive: true }));

function run(...words: string[]): { status: number | null; out: string; err: string } {
  const done = spawnSync(
    process.execPath,
    [join(root, 'dist/cli/main.js'), 'calibrate', ...words],
    {
      encoding: 'utf8',
      cwd: folder,
    },
  );
  return { status: done.status, out: done.stdout, err: done.stderr };
}

const file = join(root, 'samples/machines/table-table-ac.json');
const machine = sampleMachine('table-table-ac');
const ball = ['--ball', '45,0,20,20'];

describe('plan and fit', () => {
  const planned = run('plan', '--machine', file, ...ball, '--touches', '60', '--out', 'cal');

  it('plan writes program, form and plan, and says what is to be expected', () => {
    expect(planned.err).not.toContain('defect');
    expect(planned.status).toBe(0);
    expect(readdirSync(join(folder, 'cal')).sort()).toEqual([
      'plan.json',
      'readings.csv',
      'readings.html',
      'tiltwright-manifest.json',
      'touches.ngc',
    ]);
    expect(planned.out).toMatch(/A axis shifted along Z +0\.\d{4} mm/);
  });

  it('the folder is not written over: readings may stand in it', () => {
    const again = run('plan', '--machine', file, ...ball, '--out', 'cal');
    expect(again.status).toBe(1);
    expect(again.err).toMatch(/out\/not-empty/);
  });

  it('fit names a bad touch and makes a machine file whose tip is where the true one is', () => {
    const plan = parse(
      planFile,
      JSON.parse(readFileSync(join(folder, 'cal/plan.json'), 'utf8')),
      'p',
    );
    const model = modelOf(machine, plan.targets.map(targetFrom));
    const truth = stateAt(model, errorsOf(model, 8));
    const normal = normals(9);
    const touches = plan.touches.map(({ touch, aim, joints }) => {
      const values = machine.joints.map((j) => joints[j.letter]! * (j.kind === 'rotary' ? DEG : 1));
      const down = downward(machine, values)!;
      const met = contact(truth, aim, values, down)!;
      const by = 0.02 * normal() + (touch === 12 ? 0.7 : 0);
      return { number: touch, aim, joints: met.map((v, i) => v + by * down[i]!) };
    });
    writeFileSync(join(folder, 'filled.csv'), readingsText(machine, touches));
    const words = ['--machine', file, '--plan', 'cal/plan.json', '--readings', 'filled.csv'];
    const fit = run('fit', ...words, '--out', 'measured.json');
    expect(fit.err).toBe('');
    expect(fit.status).toBe(0);
    expect(fit.out).toMatch(/touch 12 \(.*\) is -0\.\d+ mm from what the others say: set aside/);
    const measured = readMachine(JSON.parse(readFileSync(join(folder, 'measured.json'), 'utf8')));
    expect(measured.measured!.touches).toBe(59);
    const joints = machine.joints.map((j) => (j.letter === 'A' ? 0.6 : j.letter === 'C' ? 2 : 10));
    const [is, believed] = [truth.machine, measured].map((m) => forward(m, joints).tip);
    const off = Math.hypot(...[0, 1, 2].map((c) => is![c]! - believed![c]!));
    expect(off).toBeLessThan(4 * measured.measured!.tip);
    const twice = run('fit', ...words, '--out', 'measured.json');
    expect(twice.err).toMatch(/out\/exists/);
    const figures = JSON.parse(run('fit', ...words, '--out', 'other.json', '--json').out) as {
      bad: { touch: number }[];
    };
    expect(figures.bad.map((b) => b.touch)).toEqual([12]);
  });

  it('play: a plan with a weight, its form filled in as planned: no play, no give', () => {
    const words = ['--repeats', '2', '--weight', '1,0,-70,0', '--out', 'play'];
    const made = run('play', '--machine', file, ...ball, ...words);
    expect(made.out).toMatch(/play of A +0\.\d{4} deg\n/);
    expect(made.out).toMatch(/give of A +0\.\d{4} deg\/\(N m\)/);
    expect(made.out).toMatch(/cannot be determined from these touches: play of Z/);
    const program = readFileSync(join(folder, 'play/touches.ngc'), 'utf8');
    // Hung and taken off once at each of two places for A and two for C.
    expect(program.match(/^\(hang 1 kg at part X 0 Y -70 Z 0 mm/gm)).toHaveLength(4);
    expect(program.match(/^\(take the weight off/gm)).toHaveLength(4);
    const plan = planFile.parse(JSON.parse(readFileSync(join(folder, 'play/plan.json'), 'utf8')));
    const touches = plan.touches.map(({ touch, aim, joints }) => {
      const size = (j: (typeof machine.joints)[number]): number => (j.kind === 'rotary' ? DEG : 1);
      const values = machine.joints.map((j) => joints[j.letter]! * size(j));
      return { number: touch, aim, joints: Float64Array.from(values) };
    });
    writeFileSync(join(folder, 'no-play.csv'), readingsText(machine, touches));
    const from = ['--plan', 'play/plan.json', '--readings', 'no-play.csv'];
    const fit = run('fit', '--machine', file, ...from, '--out', 'tight.json');
    expect(fit.err).toBe('');
    expect(fit.out).toMatch(/play of A +-?0\.0000 \+- 0\.0000 deg: not distinguishable from zero/);
    const tight = readMachine(JSON.parse(readFileSync(join(folder, 'tight.json'), 'utf8')));
    expect(tight.joints.find((j) => j.letter === 'A')!.backlash).toBe(0);
  });

  it('a weight of nothing is refused', () => {
    const done = run('play', '--machine', file, '--weight', '0,0,-70,0', '--out', 'none');
    expect(done.status).toBe(1);
    expect(done.err).toMatch(/kg/);
  });

  it('a plan for another machine is refused', () => {
    const other = join(root, 'samples/machines/table-table-bc.json');
    const words = ['--machine', other, '--plan', 'cal/plan.json', '--readings', 'cal/readings.csv'];
    expect(run('fit', ...words, '--out', 'x.json').err).toMatch(/calibrate\/other-machine/);
  });

  it('no target is wrong only if it is: a ball of no size is refused', () => {
    const done = run('plan', '--machine', file, '--ball', '45,0,20,0', '--out', 'none');
    expect(done.status).toBe(1);
    expect(done.err).toMatch(/diameter/);
  });
});

describe('answers from a few readings', () => {
  it('ring, with the numbers of a face z = 0.1 + 0.03 cos + 0.04 sin', () => {
    const heights = [0.13, 0.149497, 0.14, 0.107071, 0.07, 0.050503, 0.06, 0.092929];
    const rows = heights.map((h, i) => `${45 * i},${h}`).join('\n');
    writeFileSync(join(folder, 'ring.csv'), `angle deg,height mm\n${rows}\n`);
    const { out } = run('ring', 'ring.csv', '--radius', '80');
    expect(out).toMatch(/mean 0\.1000 mm, cosine 0\.0300 mm, sine 0\.0400 mm/);
    expect(out).toMatch(/highest at 53\.1 deg .* tilted by 0\.0358 deg/);
  });

  it('circle says which fit ran', () => {
    const rows = '1,7\n2,6\n5,8\n7,7\n9,5\n3,7';
    writeFileSync(join(folder, 'circle.csv'), `x mm,y mm\n${rows}\n`);
    expect(run('circle', 'circle.csv').out).toMatch(/geometric .* centre 4\.7398, 2\.9835 mm/);
    expect(run('circle', 'circle.csv', '--fit', 'linear').out).toMatch(
      /linear .* centre 4\.7423, 3\.8351 mm/,
    );
  });

  it('three', () => {
    // Face 12.3 mm over an axis at 1.7 mm, touched at 9 mm, tilted by 45 deg, tip without a flat.
    const z = [12.3, 12.3 * Math.SQRT2 + 7.3, 12.3 * Math.SQRT2 - 7.3].join(',');
    const { out } = run('three', '--at', '9', '--tilt', '45', '--flat', '0', '--heights', z);
    expect(out).toMatch(/12\.3000 mm over the tilting axis, which runs at 1\.7000 mm/);
  });
});
