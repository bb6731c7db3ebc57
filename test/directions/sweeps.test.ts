/** Sweeps on a part whose answers follow from plain geometry, and the sentences made from them. */
import { readFileSync } from 'node:fs';
import { beforeAll, describe, expect, test } from 'vitest';
import { demandOf, studyPart } from '../../lib/directions/needs.js';
import type { PartNeeds } from '../../lib/directions/needs.js';
import { type Limit, limitsUnder } from '../../lib/directions/changed-limits.js';
import { type RunUnder, type LimitSweep, cheap, leftUnder } from '../../lib/directions/sweeps.js';
import { needOf, sentence } from '../../lib/directions/sweep-words.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { placeRules } from '../../lib/job/job-file.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { readPart } from '../../lib/formats/read-part.js';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { place } from '../../lib/job/place-part.js';
import { searchedPlan } from '../../lib/regions/plan-regions.js';
import { forSearch } from '../../lib/regions/search/search-mesh.js';
import { layerRules } from '../../lib/layers/rules.js';
import { regionRules } from '../../lib/regions/rules.js';
import { parts } from '../../samples/parts.js';
import { cuboid, postWithArm } from '../support/shapes.js';

const file = new URL('../../samples/machines/table-table-ac.json', import.meta.url);
const machine = readMachine(JSON.parse(readFileSync(file, 'utf8')));

let post: PartNeeds;
let block: PartNeeds;
beforeAll(async () => {
  const kernel = await loadSolidKernel();
  const regions = regionRules.parse({ effort: 12, children: 3, directions: 120, lean: 0 });
  const rules = { regions, layers: layerRules.parse({}) };
  post = await studyPart('post', postWithArm(), machine, rules, { kernel });
  block = await studyPart('block', cuboid([12, 12, 90]), machine, rules, { kernel });
});

const sweepOf = (part: PartNeeds, limit: Limit): LimitSweep =>
  part.sweeps.find((s) => s.limit === limit)!;
const areaAt = (part: PartNeeds, limit: Limit, value: number): number | undefined =>
  sweepOf(part, limit).points.find((p) => p.value === value)!.unsupportedMm2;

describe('a post with an arm', () => {
  // The underside of the arm is 30 x 20 mm and level: along d it is supported iff its angle from d,
  // 90 deg less the tilt, is at most 45 deg (common practice). Cuts do not change that.
  test.each([0, 15, 30])('a tilt of %i deg leaves the whole underside of the arm', (tilt) => {
    expect(areaAt(post, 'tilt', tilt)).toBeCloseTo(600, 2);
  });

  test.each([60, 90, 120])('a tilt of %i deg leaves nothing', (tilt) => {
    expect(areaAt(post, 'tilt', tilt)).toBeLessThan(0.2);
  });

  test('a slim head leaves nothing', () => {
    expect(areaAt(post, 'head', 5)).toBeLessThan(0.2);
    expect(areaAt(post, 'cone', 10)).toBeLessThan(0.2);
  });

  test('the table normal alone leaves the underside, a second direction nothing', () => {
    const [one, two] = post.planned;
    expect(one!.unsupportedMm2).toBeCloseTo(600, 2);
    expect(two!.unsupportedMm2).toBeLessThan(0.2);
    expect(two!.directions[0]).toEqual([0, 0, 1]);
  });

  // Growth turns from the post into the arm: nothing has to hang from 45 deg on, and by 30 deg no direction carries a
  // level underside.
  test('in curved layers the underside hangs up to 30 deg, and next to none of it from 60 deg on', () => {
    const left = (tilt: number): number =>
      post.curved.points.find((p) => p.value === tilt)!.unsupportedMm2!;
    expect(left(0)).toBeCloseTo(600, 2);
    expect(left(30)).toBeGreaterThan(550);
    expect(left(60)).toBeLessThan(60);
    expect(post.words[0]).toMatch(/ Curved layers, by facets too, leave /);
  });

  test('what no plan can beat is never more than what a plan leaves', () => {
    post.planned.forEach((plan, i) => {
      const bound = post.sets[i] ?? post.sets.at(-1)!;
      expect(bound.unsupportedMm2).toBeLessThan(plan.unsupportedMm2 + 1e-3);
    });
  });

  test('a laxer limit never leaves more', () => {
    for (const { points } of post.sweeps) {
      const areas = points.flatMap((p) => p.unsupportedMm2 ?? []);
      expect(areas.every((a, i) => i === 0 || a <= areas[i - 1]!)).toBe(true);
    }
  });

  test('stands 14.1 mm from the axis at its farthest', () => {
    expect(post.footprintMm).toBeCloseTo(Math.hypot(10, 10), 6);
  });
});

/*
 * checks.md, elbow of 90 deg, directions free: 1 + ceil((90 - theta) / (2 theta)) regions, 2 for 45 deg,
 * by covering the bend with intervals; the second region leans by 45 deg. All facets of the bend beyond
 * 45 deg then hang by just the limit or less, so a search on a part made coarser must not be too strict.
 */
test.each([2500, 4000])(
  'a gutter elbow of %i triangles keeps nothing at 60 deg of tilt',
  async (n) => {
    const rules = regionRules.parse({ overhang: 45, detail: n });
    const kernel = await loadSolidKernel();
    const { mesh } = readPart(writeStl(parts['gutter-elbow'](kernel)), 'elbow.stl', kernel);
    const elbow = forSearch(place(mesh, placeRules.parse({})), n);
    const run: RunUnder = (spec, under) =>
      Promise.resolve(searchedPlan(spec, limitsUnder(machine, under!, rules.tilt)));
    const left = (value: number): Promise<number> =>
      leftUnder(elbow, cheap(rules), run, { limit: 'tilt', value, extent: 60 });
    const [upright, tilted] = [await left(0), await left(60)];
    expect(upright).toBeGreaterThan(1000);
    expect(tilted).toBeLessThan(0.01 * upright);
  },
);

test('a block needs nothing: every value of every limit leaves 0', () => {
  for (const { points } of block.sweeps) {
    for (const { unsupportedMm2 } of points) expect(unsupportedMm2).toBe(0);
  }
  expect(block.words[0]).toMatch(/^Tilting gains nothing/);
  expect(block.words[0]).not.toMatch(/Curved/);
});

test('together the areas are summed, and the part that asks for tilt is named', () => {
  const tilt = demandOf([block, post]).find((d) => d.limit === 'tilt')!;
  expect(tilt.sweep.points[0]!.unsupportedMm2).toBeCloseTo(600, 2);
  expect(tilt.most!.part).toBe(1);
  expect(tilt.words).toMatch(/all parts/);
});

describe('sentences', () => {
  const sweep = (
    limit: Limit,
    ...pairs: (readonly [number, number | undefined])[]
  ): LimitSweep => ({
    limit,
    unit: 'deg',
    points: pairs.map(([value, unsupportedMm2]) => ({ value, unsupportedMm2 })),
  });

  test('within 1 mm2 of the least is enough, more is not', () => {
    expect(needOf(sweep('tilt', [0, 50], [30, 1.01], [60, 1], [90, 0]))!.value).toBe(60);
  });

  test('within 1% of the least is enough where that is more', () => {
    expect(needOf(sweep('tilt', [0, 900], [30, 506], [60, 505], [90, 500]))!.value).toBe(60);
  });

  test('a tilt in the middle is enough', () => {
    const text = sentence(sweep('tilt', [0, 50], [60, 0], [90, 0]), 'this part');
    expect(text).toBe(
      'A tilt of 60 deg is enough for this part: it leaves 0.0 mm2, against 50.0 mm2 at 0 deg, and beyond it nothing is gained.',
    );
  });

  test('the last value that was tried does not pass for enough', () => {
    expect(sentence(sweep('tilt', [0, 50], [60, 20], [120, 5]), 'this part')).toMatch(/still/);
    expect(sentence(sweep('cone', [60, 50], [10, 5]), 'this part')).toMatch(/still/);
  });

  test('a part that no table holds is said to', () => {
    const text = sentence(sweep('table', [150, undefined], [100, undefined]), 'this part');
    expect(text).toMatch(/^No table that was tried holds this part.*150 mm/);
  });

  test('a part that needs only half a turn', () => {
    const text = sentence(sweep('rotary', [0, 9], [180, 0], [360, 0], [Infinity, 0]), 'this part');
    expect(text).toMatch(/range of 180 deg is enough/);
  });
});
