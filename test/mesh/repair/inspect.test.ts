/** What inspection says of solids whose figures are closed forms, and of parts with planted faults. */
import { describe, expect, it } from 'vitest';
import { loadSolidKernel } from '../../../lib/kernel/solid.js';
import { meshFrom, scaled } from '../../../lib/mesh/build.js';
import { type Inspection, inspect } from '../../../lib/mesh/repair/inspect.js';
import { turnedOver } from '../../../lib/mesh/repair/orient.js';
import { joined } from '../../../lib/mesh/shells.js';
import { cuboid, hollowSphere, pipe, torus } from '../../support/shapes.js';
import { bunny69k, figure200k, gearwheel } from '../../support/open-meshes.js';

const kernel = await loadSolidKernel();
const codes = (i: Inspection): string[] => i.findings.map((f) => f.code);

it('a cuboid of 20 x 30 x 40: size, area 5200, volume 24000, one closed shell of genus 0', () => {
  const i = inspect(cuboid([20, 30, 40]), kernel);
  expect(i).toMatchObject({
    triangles: 12,
    vertices: 8,
    size: [20, 30, 40],
    closed: true,
    shells: 1,
    inwardShells: 0,
    insideOut: false,
    genus: 0,
    edges: { open: 0, flipped: 0, crowded: 0 },
    flatFacets: 0,
    findings: [],
  });
  expect(i.area).toBeCloseTo(5200, 9);
  expect(i.volume).toBeCloseTo(24000, 9);
  // The walls face each other at 20, 30 and 40 mm.
  expect(i.thin.least).toBeCloseTo(20, 9);
});

it('a torus has genus 1, a hollow sphere two shells of which one faces inwards', () => {
  expect(inspect(torus(20, 5, 48, 24)).genus).toBe(1);
  expect(inspect(hollowSphere(10, 8, 32))).toMatchObject({
    shells: 2,
    inwardShells: 1,
    genus: 0,
    insideOut: false,
  });
});

it('finds a part inside out', () => {
  const i = inspect(turnedOver(cuboid([20, 30, 40])), kernel);
  expect(i.insideOut).toBe(true);
  expect(codes(i)).toContain('mesh/inside-out');
});

it('counts open edges of a box without its lid and names the place', () => {
  const box = cuboid([20, 30, 40]);
  const i = inspect(meshFrom(box.vertices, box.triangles.slice(6)), kernel);
  expect(i).toMatchObject({
    closed: false,
    genus: undefined,
    edges: { open: 4, flipped: 0, crowded: 0 },
  });
  expect(i.findings[0]).toMatchObject({
    code: 'mesh/open-edges',
    severity: 'error',
    at: { frame: 'part' },
  });
});

it('takes a mesh of nothing', () => {
  expect(inspect(meshFrom(new Float64Array(0), new Uint32Array(0)))).toMatchObject({
    triangles: 0,
    closed: false,
    volume: 0,
    size: [0, 0, 0],
  });
});

describe('thin places', () => {
  it('finds the wall of a pipe: 1 mm, nearly everywhere but at its two rims', () => {
    const i = inspect(pipe(20, 19, 60, 256), undefined, { thinBelow: 1.2, samples: 2000 });
    // Polygons of 256 corners: the wall is at least cos(pi / 256) of 1 mm, seen square to a flat.
    expect(i.thin.least).toBeGreaterThan(0.99);
    expect(i.thin.least).toBeLessThan(1.01);
    expect(i.thin.hits / i.thin.samples).toBeGreaterThan(0.9);
    expect(codes(i)).toEqual(['mesh/thin']);
    expect(i.findings[0]!.message).toMatch(/estimate/);
  });

  it('sends as many rays as asked, spread by area', () => {
    const i = inspect(cuboid([20, 30, 40]), undefined, { samples: 777 });
    expect(i.thin.samples).toBe(777);
    expect(i.thin.hits).toBe(0);
  });
});

describe('self-crossing', () => {
  it('counts pairs of facets where a box sticks through a box, and stops at its limit', () => {
    const mesh = joined([cuboid([10, 10, 10]), cuboid([2, 3, 20], [0.3, 0.2, -5])]);
    const i = inspect(mesh);
    expect(i.crossing.pairs).toBeGreaterThan(0);
    expect(i.crossing.complete).toBe(true);
    expect(codes(i)).toEqual(['mesh/self-crossing']);
    expect(inspect(mesh, undefined, { crossingLimit: 2 }).crossing).toMatchObject({
      pairs: 2,
      complete: false,
    });
  });

  it.each([
    ['gearwheel', gearwheel],
    ['bunny69k', bunny69k],
    ['figure200k', figure200k],
  ])('finds none in %s', (_, load) => {
    expect(inspect(load()).crossing.pairs).toBe(0);
  });
});

describe('a unit that looks wrong', () => {
  it.each([
    [
      '0.156 mm high, so likely in metres',
      bunny69k,
      /0\.156 mm.*less than 1\.5 mm.*156 mm if its unit is the metre/,
    ],
    [
      '4 m across, so likely in microns',
      (): ReturnType<typeof gearwheel> => scaled(gearwheel(), 1000),
      /41700 mm.*more than 1000 mm.*41\.7 mm if its unit is the micron/,
    ],
  ])('%s', (_, load, message) => {
    const found = inspect(load()).findings.find((f) => f.code === 'mesh/unit-doubtful');
    expect(found?.message).toMatch(message);
  });

  it('is not doubted at 42 mm', () => {
    expect(codes(inspect(gearwheel()))).not.toContain('mesh/unit-doubtful');
  });
});
