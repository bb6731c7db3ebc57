/** What the rules refuse, and with which words. */
import { beforeAll, describe, expect, test } from 'vitest';
import { pathFindings } from '../../lib/paths/figures.js';
import { Fault } from '../../lib/base/fault.js';
import { parse } from '../../lib/base/schema.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { checkBeads, pathRules } from '../../lib/paths/rules.js';
import { layersOf, plan, rectangle } from './flat.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const refusal = (work: () => unknown): Fault => {
  try {
    work();
  } catch (error) {
    if (error instanceof Fault) return error;
    throw error;
  }
  throw new Error('nothing was refused');
};

test('defaults stand for a nozzle of any size', () => {
  const rules = pathRules.parse({});
  const usual = checkBeads(rules, 0.4, Float64Array.of(0.2));
  expect(usual.width).toBeCloseTo(0.45, 12);
  expect(usual.least).toBeCloseTo(0.3, 12);
  const wide = checkBeads(rules, 0.8, Float64Array.of(0.4));
  expect(wide.width).toBeCloseTo(0.9, 12);
  expect(wide.least).toBeCloseTo(0.6, 12);
});

describe('refused', () => {
  test.each([
    [{ beads: 0.4 }, 'paths/unknown-key', /"bead"/],
    [{ fill: { density: 1.2 } }, 'paths/bad-value', /fill\.density.*1\.2/],
    [{ fill: { pattern: 'stripes' } }, 'paths/bad-value', /fill\.pattern/],
    [{ contours: 0 }, 'paths/bad-value', /contours.*0/],
    [{ contours: 2.5 }, 'paths/bad-value', /contours/],
    [{ bead: -1 }, 'paths/bad-value', /bead/],
    [{ overlap: 0.7 }, 'paths/bad-value', /overlap.*0\.7/],
    [{ start: { rule: 'there' } }, 'paths/bad-value', /start\.rule/],
  ])('%j', (value, code, words) => {
    const fault = refusal(() => parse(pathRules, value, 'paths'));
    expect(fault.code).toBe(code);
    expect(fault.message).toMatch(words);
  });

  test('a bead narrower than a layer is high, wider than 2.5 nozzles, or least over width', () => {
    const layers = layersOf([[rectangle(0, 0, 10, 10)]], { height: 0.3 });
    const low = refusal(() => plan(layers, { bead: 0.25 }, kernel));
    expect([low.code, low.at!.key]).toEqual(['paths/bad-bead', 'paths.bead']);
    expect(low.message).toBe(
      'paths.bead is 0.25 mm; the limit is at least the thickest layer, 0.3 mm',
    );
    const wide = refusal(() => plan(layers, { bead: 1.1 }, kernel));
    expect(wide.message).toBe(
      'paths.bead is 1.1 mm; the limit is at most 2.5 of the 0.4 mm nozzle',
    );
    const least = refusal(() => plan(layers, { thin: { least: 0.5 } }, kernel));
    expect(least.message).toBe(
      'paths.thin.least is 0.5 mm; the limit is at most the bead width, 0.45 mm',
    );
  });
});

test('a wider bead is laid as wide, at its own spacing', () => {
  const { paths } = plan(layersOf([[rectangle(0, 0, 20, 20)]]), { bead: 0.6 }, kernel);
  expect(new Set(paths.width)).toEqual(new Set([0.6]));
});

test('an empty layer, and layers without any section, make no path and no fault', () => {
  const planned = plan(layersOf([[], [rectangle(0, 0, 9, 9)], []]), {}, kernel);
  expect(new Set(planned.paths.layer)).toEqual(new Set([1]));
  expect(pathFindings([planned])).toEqual([]);
});
