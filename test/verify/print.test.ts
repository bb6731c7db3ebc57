/**
 * The print in the computer, on programs spelled by hand: volumes, air and shape against closed forms.
 */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import { turn } from '../../lib/base/frame.js';
import { DEG } from '../../lib/base/vector.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { type ProgramCheck, verify } from '../../lib/verify/verify.js';
import { cuboid, rotated } from '../support/shapes.js';
import { Pen, printer } from './prints.js';

const [W, H] = [0.4, 0.2];

const checked = (pen: Pen, part?: Mesh, machine = printer()): ProgramCheck =>
  verify(pen.text(), machine, part ? { part } : {}).check;
const serious = (c: ProgramCheck): Finding[] => c.findings.filter((f) => f.severity !== 'note');
const codes = (c: ProgramCheck): string[] => [...new Set(serious(c).map((f) => f.code))];

function solidBox(skip = -1): Pen {
  const pen = new Pen();
  pen.move([0, 0, 30]);
  pen.box([-10, -6, 0], [20, 12, 4], W, H, skip);
  return pen;
}

describe('a solid box', () => {
  const check = checked(solidBox(), cuboid([20, 12, 4]));
  it('fills its volume and takes as much filament', () => {
    expect(check.print!.filledMm3).toBeGreaterThan(0.99 * 960);
    expect(check.print!.filledMm3).toBeLessThan(1.01 * 960);
    expect(check.volumeMm3).toBeCloseTo(960, 0);
    expect(check.print!.heightMm).toBeCloseTo(H, 3);
    expect(check.print!.widthMm).toBeCloseTo(W, 3);
  });
  it('has its surface where the part has it, and nothing else is wrong', () => {
    expect(serious(check)).toEqual([]);
    expect(check.shape!.p95Mm).toBeLessThan(W / 4);
    expect(Math.abs(check.shape!.meanMm)).toBeLessThan(0.02);
    expect(check.print!.inAirMm).toBe(0);
    expect(check.print!.touches).toBe(0);
  });
});

describe('a box on a tilted table', () => {
  // A foot of 20 x 20 x 4, and a block of 8 x 8 x 4 that grows out of its +Y side along the part's +Y.
  const pen = new Pen();
  pen.move([0, 0, 40]);
  pen.box([-10, -10, 0], [20, 20, 16], W, H);
  // k = (sin A sin C, sin A cos C, cos A): A 90 builds along +Y. The head turns far above the table.
  pen.lines.push('G1 X0 Y-40 Z150 F6000');
  pen.turn(90, 0);
  pen.move([0, 60, 8]);
  const z0 = 10;
  for (let k = 0; k < 20; k++) {
    for (let i = 0; i < 20; i++) {
      const x = -4 + (i + 0.5) * W;
      const [from, to] = i % 2 ? [6, 14] : [14, 6];
      pen.move([x, z0 + (k + 1) * H, from]);
      pen.lay([x, z0 + (k + 1) * H, to], W, H);
    }
  }
  pen.move([0, 60, 8]);
  const machine = printer((json) => {
    // A head thin enough to work beside the table.
    json.head.stack = [
      { above: 0, radius: 0.4 },
      { above: 60, radius: 5 },
    ];
  });
  const check = checked(pen, undefined, machine);

  it('is laid along the head wherever it points', () => {
    expect(codes(check)).toEqual([]);
    expect(check.print!.filledMm3).toBeGreaterThan(0.99 * (6400 + 256));
    expect(check.print!.filledMm3).toBeLessThan(1.01 * (6400 + 256));
    expect(check.print!.inAirMm).toBe(0);
  });
  it('is in the air with the wrong sign of the tilt', () => {
    const wrong = pen.text().replace('A90.0000', 'A-90.0000');
    const line =
      pen
        .text()
        .split('\n')
        .findIndex((l) => l.includes('A90.0000')) + 1;
    const found = verify(wrong, machine, {}).check;
    const air = found.findings.find((f) => f.code === 'verify/in-air')!;
    // The first bead stands a few lines after the turn.
    expect(air.at!.line).toBeGreaterThan(line);
    expect(air.at!.line).toBeLessThan(line + 6);
    expect(found.print!.inAirMm).toBeGreaterThan(100);
  });
  it('touches what is printed with a head that is too wide', () => {
    const wide = printer((json) => {
      json.head.stack = [
        { above: 0, radius: 0.4 },
        { above: 8, radius: 2 },
        { above: 8, radius: 30 },
        { above: 60, radius: 30 },
      ];
    });
    const found = checked(pen, undefined, wide);
    const touch = found.findings.find((f) => f.code === 'verify/touch')!;
    expect(touch.message).toMatch(/the head is in/);
  });
});

describe('the head over the table', () => {
  // Tilted by 60 deg, the edge of the head 8 mm over the tip and 9 mm wide comes down to
  // z + 8 cos 60 - 9 sin 60 = z - 3.794 mm, and 0.3 cos 60 less for what the nozzle may rub over.
  const over = (z: number): [ProgramCheck, number] => {
    const pen = solidBox();
    pen.lines.push('G1 X0 Y-40 Z150 F6000');
    pen.turn(60, 0);
    pen.move([0, 60, 60]);
    pen.move([0, 60, z]);
    return [checked(pen), pen.line];
  };
  it('touches it where the closed form says', () => {
    const [touching, line] = over(3.5);
    const touch = touching.findings.find((f) => f.code === 'verify/touch')!;
    expect(touch.at!.line).toBe(line);
    expect(touch.message).toContain('the table');
    expect(over(3.8)[0].print!.touches).toBe(0);
  });
});

describe('the wide part of the head beside a pillar', () => {
  // From 8 mm over the tip the head is 9 mm wide, growing by 9 in 22; what stands 0.3 mm over the
  // tip (one and a half beads) counts. A pillar 12 mm high, the tip at 2 mm: 9.7 mm over it.
  const reach = 9 + (9 * (12 - 2 - 1.5 * H - 8)) / 22;
  /** A way along a pillar's -X face, turned by `turned` deg about Z, `gap` mm beside the head. */
  const past = (gap: number, off: number, turned: number): [ProgramCheck, number] => {
    const pen = new Pen();
    pen.move([0, 0, 30]);
    pen.box([off, off / 2 - 2, 0], [4, 4, 12], W, H);
    // The way turns about the middle of the face's edge, so it is the edge that comes nearest.
    const [c, s] = [Math.cos(turned * DEG), Math.sin(turned * DEG)];
    const corner = turned === 0 ? 0 : -2 * Math.sign(turned);
    const x0 = off - (reach + gap) * c;
    const y0 = off / 2 + corner - (reach + gap) * s;
    const at = (way: number, z: number) => [x0 - way * s, y0 + way * c, z] as const;
    pen.move(at(-30, 30));
    pen.move(at(-30, 2));
    pen.move(at(30, 2));
    pen.move(at(30, 30));
    return [checked(pen), pen.line - 1];
  };
  it.each([
    [0, 0],
    [0.37, 0],
    [-0.61, 0],
    [0.13, 20],
    [0.81, -35],
  ])('touches it by 0.3 mm and clears it by 0.3 mm: %s mm off, turned by %s deg', (off, turned) => {
    const [touching, line] = past(-0.3, off, turned);
    const touch = touching.findings.find((f) => f.code === 'verify/touch')!;
    expect(touch.at!.line).toBe(line);
    expect(touch.message).toContain('what is printed');
    expect(past(0.3, off, turned)[0].print!.touches).toBe(0);
  });
});

describe('what is planted in a solid box', () => {
  const sound = solidBox().text();
  const lines = sound.split('\n');
  const layerOf = (z: string): number => lines.findIndex((l) => l.includes(`Z${z}`)) + 1;

  it('a dropped layer: the layer over it is in the air', () => {
    const pen = solidBox(9);
    const found = checked(pen, cuboid([20, 12, 4]));
    const text = pen.text().split('\n');
    const first = text.findIndex((l) => l.includes('Z2.2000') && l.includes('E')) + 1;
    const air = found.findings.find((f) => f.code === 'verify/in-air')!;
    expect(air.at!.line).toBe(first);
    // The layer has 20 x 12 mm of beads 0.4 mm apart.
    expect(found.print!.inAirMm).toBeCloseTo((20 * 12) / W, 0);
  });

  it('a bead of half the flow, by its line, and the skin where it is on it', () => {
    // The outermost bead at y = 5.8 of a layer along X.
    const line = lines.findIndex((l) => l.includes('Y5.8000 Z2.2000') && l.includes('E'));
    const changed = lines.slice();
    changed[line] = changed[line]!.replace(/E(\S+)/, (_, e) => `E${(Number(e) / 2).toFixed(5)}`);
    const found = verify(changed.join('\n'), printer(), {}).check;
    expect(found.volumeMm3).toBeCloseTo(960 - (20 * W * H) / 2, 1);
    const step = found.findings.find((f) => f.code === 'verify/flow-step')!;
    expect(step.at!.line).toBe(line + 1);
  });

  it('a link that runs through what is printed', () => {
    const at = layerOf('4.0000');
    const changed = lines.slice();
    // From the last layers the head goes down beside the box and through it.
    changed.splice(at, 0, 'G1 X-40 Y0 Z20 F6000', 'G1 Z1', 'G1 X40', 'G1 Z20');
    const found = verify(changed.join('\n'), printer(), {}).check;
    const touch = found.findings.find((f) => f.code === 'verify/touch')!;
    expect(touch.at!.line).toBe(at + 3);
    // The tip passes 2.8 mm under the last layer but one, which stands 3.8 mm high.
    expect(touch.message).toMatch(/2\.[5-9]\d mm deep/);
  });

  it('the nozzle never heated, and heated too little', () => {
    const cold = verify(sound.replace('M101 P210\n', ''), printer(), {}).check;
    expect(codes(cold)).toEqual(['verify/cold']);
    const cool = verify(sound.replace('P210', 'P40'), printer(), {}).check;
    expect(codes(cool)).toEqual(['verify/cold']);
    expect(serious(cool)[0]!.message).toContain('40 deg C');
  });

  it('filament drawn back and not primed', () => {
    const at = lines.findIndex((l) => l.includes('E')) + 40;
    const changed = lines.slice();
    changed.splice(at, 0, 'G1 E-1 F1800');
    const found = verify(changed.join('\n'), printer(), {}).check;
    const first = changed.findIndex((l, i) => i > at && l.includes('E')) + 1;
    const unprimed = found.findings.find((f) => f.code === 'verify/unprimed')!;
    expect(unprimed.at!.line).toBe(first);
  });
});

describe('bridges', () => {
  /** Two walls, and beads from one to the other. */
  const span = (gap: number): ProgramCheck => {
    const pen = new Pen();
    pen.move([0, 0, 30]);
    pen.box([-gap / 2 - 4, -2, 0], [4, 4, 4], W, H);
    pen.box([gap / 2, -2, 0], [4, 4, 4], W, H);
    pen.move([-gap / 2 - 4, 0, 4.2]);
    pen.lay([gap / 2 + 4, 0, 4.2], W, H);
    return checked(pen);
  };
  it('count as carried up to 10 mm, and hang beyond', () => {
    expect(span(6).print!.inAirMm).toBe(0);
    expect(span(6).print!.bridgedMm).toBeGreaterThan(5);
    expect(span(14).print!.inAirMm).toBeCloseTo(14, 0);
  });
  it('hang at once if they end in the air', () => {
    const pen = new Pen();
    pen.move([0, 0, 30]);
    pen.box([-2, -2, 0], [4, 4, 4], W, H);
    pen.move([-2, 0, 4.2]);
    pen.lay([6, 0, 4.2], W, H);
    const found = checked(pen);
    expect(found.print!.inAirMm).toBeCloseTo(4, 0);
    expect(codes(found)).toContain('verify/in-air');
  });
});

describe('islands', () => {
  /** A square slab of 6 mm, two contours and fill from contour to contour, over nothing from z = 2 on. */
  const slab = (pen: Pen, layers: number): void => {
    for (let k = 0; k < layers; k++) {
      const z = 2 + (k + 1) * H;
      for (const r of [2.8, 2.4]) {
        pen.move([10 - r, -r, z]);
        for (const [x, y] of [
          [r, -r],
          [r, r],
          [-r, r],
          [-r, -r],
        ] as const) {
          pen.lay([10 + x, y, z], W, H);
        }
      }
      for (let i = 0; i < 11; i++) {
        const y = -2 + i * W;
        const side = i % 2 === 0 ? 1 : -1;
        pen.move([10 - 2.2 * side, y, z]);
        pen.lay([10 + 2.2 * side, y, z], W, H);
      }
    }
  };
  it('hang as a whole in their first layer, fill from contour to contour with them', () => {
    const pen = new Pen();
    pen.move([0, 0, 30]);
    pen.box([-2, -2, 0], [4, 4, 4], W, H);
    slab(pen, 3);
    const { print } = checked(pen);
    // Contours of 5.6 and 4.8 mm, and 11 beads of 4.4 mm.
    expect(print!.inAirMm).toBeCloseTo(4 * (5.6 + 4.8) + 11 * 4.4, 1);
    expect(print!.bridgedMm).toBeCloseTo(0, 1);
  });
  it('carry what lies across them no more than a bridge that hangs', () => {
    // Two walls 14 mm apart, a bead from one to the other that is too long, and beads that end at it.
    const pen = new Pen();
    pen.move([0, 0, 30]);
    pen.box([-11, -2, 0], [4, 4, 4], W, H);
    pen.box([7, -2, 0], [4, 4, 4], W, H);
    pen.move([-11, 0, 4.2]);
    pen.lay([11, 0, 4.2], W, H);
    pen.move([0, -5, 4.2]);
    pen.lay([0, -0.2, 4.2], W, H);
    const { print } = checked(pen);
    expect(print!.inAirMm).toBeCloseTo(14 + 4.8, 0);
  });
});

describe('shape', () => {
  it('tells by how much a part differs in size, with its sign', () => {
    const small = checked(solidBox(), cuboid([19.4, 11.4, 4]));
    const large = checked(solidBox(), cuboid([20.4, 12.4, 4]));
    // Four sides 0.3 mm too far out; top and bottom fit.
    const side = (x: number, y: number): number => 2 * 4 * (x + y);
    const share = side(19.4, 11.4) / (side(19.4, 11.4) + 2 * 19.4 * 11.4);
    expect(small.shape!.meanMm).toBeCloseTo(0.3 * share, 1);
    expect(small.shape!.mostMm).toBeGreaterThan(0.25);
    expect(large.shape!.leastMm).toBeLessThan(-0.15);
    expect(small.shape!.tooMuchMm2).toBeGreaterThan(0);
  });
  it('finds the run that is shifted, and by how much', () => {
    const part = rotated(cuboid([20, 12, 4]), turn([0, 0, 1], 0 * DEG));
    const moved = solidBox()
      .text()
      .replace(/X(-?\d+\.\d+)/g, (_, x: string) => `X${(Number(x) + 0.25).toFixed(4)}`);
    const found = verify(moved, printer(), { part }).check;
    const [run] = found.shape!.runs;
    expect(run!.shiftMm[0]).toBeCloseTo(0.25, 1);
    expect(codes(found)).toContain('verify/shifted');
  });
  it.each([
    [1, ['verify/turned']],
    [0.3, []],
  ])('finds the run that is turned by %s deg, from 0.1 mm at its corners on', (degrees, told) => {
    const part = rotated(cuboid([20, 12, 4]), turn([0, 0, 1], -degrees * DEG));
    const found = checked(solidBox(), part);
    const [run] = found.shape!.runs;
    // Half the diagonal, as the arm of a corner.
    const swing = Math.hypot(10, 6) * degrees * DEG;
    expect(Math.abs(run!.turnDeg[2] - degrees)).toBeLessThan(0.15 * degrees + 0.05);
    expect(Math.abs(run!.swingMm - swing)).toBeLessThan(0.15 * swing + 0.01);
    expect(codes(found).filter((c) => c === 'verify/turned' || c === 'verify/shifted')).toEqual(
      told,
    );
  });
});
