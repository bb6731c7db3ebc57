/** The picture of regions: what is seen where, told from its pixels. */
import { decode } from 'fast-png';
import { expect, test } from 'vitest';
import { draw, project, viewFrom } from '../../lib/draw/raster.js';
import { regionColour } from '../../lib/draw/palette.js';
import { cuboid } from '../support/shapes.js';
import { regionsPicture } from '../../lib/report/regions-picture.js';
import type { Region } from '../../lib/regions/region.js';

test('the nearer of two boxes hides the other, pixel by pixel', () => {
  const view = viewFrom([0, -1, 0]);
  const fit = { size: 64, scale: 2, centre: [0, 0, 0] as const };
  const near = { mesh: cuboid([10, 2, 10], [0, -10, -5]), colour: [255, 0, 0] as const };
  const far = { mesh: cuboid([20, 2, 20], [0, 10, -10]), colour: [0, 0, 255] as const };
  for (const scene of [
    [near, far],
    [far, near],
  ]) {
    const pixels = draw(scene, view, fit);
    const at = (p: readonly [number, number, number]): number[] => {
      const [x, y] = project(p, view, fit);
      const o = 4 * (Math.floor(y) * 64 + Math.floor(x));
      return [...pixels.slice(o, o + 4)];
    };
    expect(at([0, -11, 0])[0]).toBeGreaterThan(0);
    expect(at([0, -11, 0])[2]).toBe(0);
    expect(at([8, 9, 8])[2]).toBeGreaterThan(0);
    expect(at([8, 9, 8])[0]).toBe(0);
    expect(at([14, 0, 14])[3]).toBe(0);
  }
});

test('covered area is that of the silhouette', () => {
  const fit = { size: 200, scale: 5, centre: [0, 0, 0] as const };
  const pixels = draw(
    [{ mesh: cuboid([20, 20, 20], [0, 0, -10]), colour: [9, 9, 9] }],
    viewFrom([0, -1, 0]),
    fit,
  );
  let alpha = 0;
  for (let i = 3; i < pixels.length; i += 4) alpha += pixels[i]! / 255;
  // Closed form: 20 mm at 5 pixels a mm is 100 x 100 pixels.
  expect(alpha).toBeCloseTo(10_000, -1);
});

test('level lines lie where the level is whole', () => {
  // Seen from the front, a wall of 20 mm with a level that rises by 1 in 4 mm: lines at 4, 8, 12, 16 mm and on its edges.
  const mesh = cuboid([20, 20, 20], [0, 0, -10]);
  const level = Float64Array.from({ length: 8 }, (_, i) => (mesh.vertices[3 * i + 2]! + 10) / 4);
  const fit = { size: 200, scale: 5, centre: [0, 0, 0] as const };
  const pixels = draw([{ mesh, colour: [200, 200, 200], level }], viewFrom([0, -1, 0]), fit);
  const column = Array.from({ length: 200 }, (_, y) => pixels[4 * (200 * y + 100)]!);
  const plain = column[60]!;
  const dark = [...column.keys()].filter((y) => y > 52 && y < 148 && column[y]! < 0.9 * plain);
  const places = dark.filter((y, i) => i === 0 || y > dark[i - 1]! + 1);
  expect(places).toHaveLength(4);
  [16, 12, 8, 4].forEach((mm, i) => {
    expect(Math.abs(places[i]! - (150 - 5 * mm))).toBeLessThanOrEqual(1);
  });
});

test('region colours are the published ones of Okabe and Ito (2008), and differ for 21 regions', () => {
  // Their sky blue and vermillion, from memory: 86 180 233 and 213 94 0.
  expect(regionColour(0)).toEqual([86, 180, 233]);
  expect(regionColour(6)).toEqual([213, 94, 0]);
  expect(new Set(Array.from({ length: 21 }, (_, i) => regionColour(i).join())).size).toBe(21);
});

test('the SVG stands alone: three images inside, a legend row a region, text escaped', () => {
  const mesh = cuboid([10, 10, 10]);
  const region: Region = {
    mesh,
    cut: new Int32Array(12).fill(-1),
    baseCut: -1,
    direction: [0, 0, 1],
    base: { point: [0, 0, 0], normal: [0, 0, 1] },
    standsOn: [],
    volume: 1000,
    contactArea: 100,
    unsupportedArea: 0,
  };
  const svg = regionsPicture([region], [new Uint8Array(12)], { title: 'a <b> & c', summary: '' });
  const images = [...svg.matchAll(/data:image\/png;base64,([^"]+)"/g)];
  expect(images.length).toBe(3);
  for (const [, data] of images)
    expect(decode(Buffer.from(data!, 'base64')).width).toBeGreaterThan(100);
  expect(svg).toContain('a &lt;b&gt; &amp; c');
  expect(svg).not.toMatch(/(href|src)="http/);
  expect(svg.match(/region \d+: tilt/g)).toHaveLength(1);
});
