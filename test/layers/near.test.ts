/** Loops by layer and what is near them, edges closed in pairs, and what is said of bridges. */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import { seeded } from '../../lib/base/random.js';
import { type Mesh, next } from '../../lib/base/mesh.js';
import { ceilingsOf } from '../../lib/layers/bridged-ceilings.js';
import { bridgeFindings } from '../../lib/layers/bridge-findings.js';
import { needsUnion } from '../../lib/layers/crossing-loops.js';
import { closedTwins } from '../../lib/layers/closed-twins.js';
import { flatMap } from '../../lib/layers/layer-map.js';
import { joined, loopsOf, onlyNear, rowsOf } from '../../lib/layers/near.js';
import { pieces } from '../../lib/layers/slivers.js';
import type { Bridge, LayerHanging } from '../../lib/layers/unsupported.js';
import { meshFrom } from '../../lib/mesh/build.js';
import type { Polygons } from '../../lib/polygon/polygons.js';
import { polygonsFrom } from '../support/polygons.js';
import { box } from './solids.js';

type Loop = [number, number][];
const loopsIn = (p: Polygons): Loop[] =>
  Array.from({ length: p.start.length - 1 }, (_, i) =>
    Array.from({ length: p.start[i + 1]! - p.start[i]! }, (_, k): [number, number] => [
      p.points[2 * (p.start[i]! + k)]!,
      p.points[2 * (p.start[i]! + k) + 1]!,
    ]),
  );

describe('loops by layer', () => {
  const random = seeded(2);
  const some = (): Loop => {
    const [x, y] = [Math.floor(20 * random()), Math.floor(20 * random())];
    const [a, b] = [1 + Math.floor(3 * random()), 1 + Math.floor(3 * random())];
    return [[x, y], [x + a, y], [x, y + b]]; // prettier-ignore
  };
  const rows = (): Loop[][] => Array.from({ length: 5 }, (_, k) => Array.from({ length: (k * 3) % 5 }, some)); // prettier-ignore
  const sectionsOf = (r: Loop[][]) => joined(r.map((loops) => polygonsFrom(loops)));

  it('come back from the record in which they were joined', () => {
    const all = rows();
    const section = sectionsOf(all);
    expect(rowsOf(section).map(loopsIn)).toEqual(all);
    expect(loopsIn(section.section)).toEqual(all.flat());
    expect(loopsIn(loopsOf(section.section, 1, 4))).toEqual(all.flat().slice(1, 4));
  });

  it('near others by their boxes, in the same layer or a neighbouring one (80 sets, seed 2)', () => {
    for (let n = 0; n < 80; n++) {
      const [all, others] = [rows(), rows()];
      const margin = n % 4;
      const found = onlyNear(sectionsOf(all), others.map((loops) => polygonsFrom(loops)), margin); // prettier-ignore
      const want = all.map((loops, k) => {
        const near = [others[k - 1], others[k], others[k + 1]].flatMap((o) => o ?? []).flat();
        return loops.filter((loop) =>
          [0, 1].every((c) => {
            const [own, far] = [loop.map((p) => p[c]!), near.map((p) => p[c]!)];
            return (
              Math.min(...own) <= Math.max(...far) + margin &&
              Math.max(...own) >= Math.min(...far) - margin
            );
          }),
        );
      });
      expect(rowsOf(found).map(loopsIn)).toEqual(want);
    }
  });
});

describe('edges without a twin', () => {
  it('of boxes that touch along an edge are paired, each with one that runs back', () => {
    // Four boxes in a ring around one edge, two of them there: the edge has four facets.
    const [a, b] = [box([0, 0, 0], [1, 1, 1]), box([1, 1, 0], [2, 2, 1])];
    const both = [...a.vertices, ...b.vertices];
    const places = Array.from({ length: 16 }, (_, i) => both.slice(3 * i, 3 * i + 3).join());
    const triangles = Uint32Array.from([...a.triangles, ...b.triangles.map((v) => v + 8)], (v) => places.indexOf(places[v]!)); // prettier-ignore
    const mesh = meshFrom(Float64Array.from(both), triangles);
    expect(mesh.twins.filter((t) => t < 0)).toHaveLength(4);
    const twins = closedTwins(mesh);
    twins.forEach((t, h) => {
      expect(twins[t]).toBe(h);
      expect(triangles[t]).toBe(triangles[next(h)]);
      expect(triangles[next(t)]).toBe(triangles[h]);
      if (mesh.twins[h]! >= 0) expect(t).toBe(mesh.twins[h]);
    });
  });

  it.each([1, 2, 3, 5])('that nothing closes are counted: %i facets taken from a box', (count) => {
    const whole = box([0, 0, 0], [1, 1, 1]);
    const mesh: Mesh = meshFrom(whole.vertices, whole.triangles.slice(3 * count));
    const open = mesh.twins.filter((t) => t < 0).length;
    expect(() => closedTwins(mesh)).toThrow(new RegExp(`has ${open} open edges`));
    expect(closedTwins(whole)).toBe(whole.twins);
  });

  it('that run the same way do not close one another', () => {
    const mesh = meshFrom(new Float64Array(12), Uint32Array.of(0, 1, 2, 0, 1, 3));
    expect(() => closedTwins(mesh)).toThrow(/has 6 open edges/);
  });
});

describe('bridges', () => {
  const square = polygonsFrom([[[0, 0], [2, 0], [2, 3], [0, 3]]]); // prettier-ignore
  const bridge = (region: number, layer: number, mm2: number, spanMm: number): Bridge => ({ region, layer, point: [region, layer, 7], mm2, edgeMm: 2, spanMm, angle: 0, area: square }) as unknown as Bridge; // prettier-ignore
  const warning = (region: number | undefined, code = 'regions/unsupported-cut'): Finding => ({
    code,
    severity: 'warning',
    message: '',
    ...(region === undefined ? {} : { at: { region } }),
  });

  it('are noted for each region, with all that is bridged and the longest; its warning goes if nothing else hangs', () => {
    const hanging = {
      byRegion: Float64Array.of(0, 0.5, 0, 0.009),
      bridges: [bridge(0, 3, 4, 6), bridge(1, 1, 1, 2), bridge(0, 9, 2.5, 8), bridge(3, 2, 1, 1), bridge(0, 12, 1, 8)], // prettier-ignore
    } as unknown as LayerHanging;
    const given = [warning(0), warning(0, 'regions/pedestal'), warning(1), warning(2), warning(3), warning(undefined)]; // prettier-ignore
    const out = bridgeFindings(given, hanging);
    expect(out.slice(0, 4)).toEqual([given[1], given[2], given[3], given[5]]);
    expect(out.slice(4)).toEqual([
      expect.objectContaining({
        code: 'layers/bridged',
        severity: 'note',
        message: '7.5 mm2 of region 1 is bridged, at most 8.0 mm from end to end',
        at: { region: 0, layer: 9, point: [0, 9, 7], frame: 'part' },
      }),
      expect.objectContaining({
        message: expect.stringContaining('1.0 mm2 of region 2') as string,
      }),
      expect.objectContaining({
        message: expect.stringContaining('1.0 mm2 of region 4') as string,
      }),
    ]);
  });

  it('of the first region become ceilings: from the layer below to their own, wider by what the angle reaches', () => {
    const layers = { map: flatMap([0, 0, 1]), top: Float64Array.of(0.3, 0.5, 0.7), thickness: Float64Array.of(0.3, 0.2, 0.2) } as never; // prettier-ignore
    const ceilings = ceilingsOf(layers, [bridge(0, 0, 1, 1), bridge(1, 1, 1, 1), bridge(0, 2, 1, 1)], Math.atan(2)); // prettier-ignore
    expect(ceilings).toHaveLength(2);
    // Middles at 0.15, 0.4 and 0.6 mm; slack of some hundredths at most.
    const [low, high] = ceilings;
    for (const [ceiling, z, step] of [
      [low!, 0.15, 0.3],
      [high!, 0.6, 0.2],
    ] as const) {
      // prettier-ignore
      const slack = ceiling.to - z;
      expect(slack).toBeGreaterThan(0);
      expect(slack).toBeLessThan(0.05);
      expect(ceiling.from).toBeCloseTo(z - step - slack, 12);
      expect(ceiling.reach).toBeCloseTo(2 * step + slack, 12);
      expect([...ceiling.area.points]).toEqual([...square.points]);
      expect([...ceiling.area.start]).toEqual([0, 4]);
    }
  });
});

describe('nested squares', () => {
  const square = (half: number, x = 0): Loop => [[x - half, -half], [x + half, -half], [x + half, half], [x - half, half]]; // prettier-ignore
  const turned = (loop: Loop): Loop => [...loop].reverse();

  it('fall into pieces: each outer loop with the holes straight inside it', () => {
    const island = [square(5), turned(square(4)), square(3), turned(square(1)), square(1, 20)];
    expect(pieces(polygonsFrom(island)).map(loopsIn)).toEqual([
      [square(5), turned(square(4))],
      [square(3), turned(square(1))],
      [square(1, 20)],
    ]);
  });

  it('need a union unless outer loops and holes alternate, wherever they stand in the record', () => {
    // The rule by depth: even ones run counter-clockwise, odd ones clockwise.
    const even = [square(5), turned(square(4)), square(3)];
    const twice = [square(5), square(4)];
    const hollow = [turned(square(5))];
    const p = polygonsFrom([...even, ...twice, ...even, ...hollow]);
    expect(needsUnion(p, 0, 3)).toBe(false);
    expect(needsUnion(p, 3, 5)).toBe(true);
    expect(needsUnion(p, 5, 8)).toBe(false);
    expect(needsUnion(p, 8, 9)).toBe(true);
    expect(needsUnion(p, 5, 5)).toBe(false);
  });
});
