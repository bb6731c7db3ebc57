/**
 * The bodies of a machine file as closed meshes: outlines and cylinders with so many sides, their
 * corners on the circles, boxes corner by corner.
 */
import type { File, FileMesh, FileSolid, Vec } from './chain.js';

const SIDES = 48;

/** The head and every obstacle as meshes. */
export function inMeshes(file: File): File {
  const { stack = [], boxes = [], meshes = [], ...head } = file.head;
  const turned = stack.length > 0 ? [turnedMesh(stack)] : [];
  return {
    ...file,
    head: { ...head, meshes: [...turned, ...boxes.map((b) => boxMesh(b.from, b.to)), ...meshes] },
    obstacles: (file.obstacles ?? []).map((o) => ({ ...o, solid: meshOf(o.solid) })),
  };
}

function meshOf(solid: FileSolid): FileMesh {
  switch (solid.shape) {
    case 'mesh':
      return solid;
    case 'box':
      return boxMesh(solid.from, solid.to);
    case 'cylinder':
      return standing(solid);
  }
}

export const boxMesh = (from: Vec, to: Vec): FileMesh => {
  const [x0, y0] = from;
  const [x1, y1] = to;
  const ring = (z: number): Vec[] => [
    [x0, y0, z],
    [x1, y0, z],
    [x1, y1, z],
    [x0, y1, z],
  ];
  return tower([ring(from[2]), ring(to[2])]);
};

/** Turned about Z. */
export const turnedMesh = (
  outline: readonly { readonly above: number; readonly radius: number }[],
): FileMesh => tower(outline.map((p) => ringOf(p.radius, p.above)));

function standing({ from, to, radius }: Extract<FileSolid, { shape: 'cylinder' }>): FileMesh {
  const [low, high] = from[2] < to[2] ? [from, to] : [to, from];
  if (low[0] !== high[0] || low[1] !== high[1]) throw new Error('a cylinder that does not stand');
  const ring = (p: Vec): Vec[] =>
    ringOf(radius, p[2]).map(([x, y, z]) => [x + p[0], y + p[1], z] as const);
  return tower([ring(low), ring(high)]);
}

const ringOf = (radius: number, z: number): Vec[] =>
  Array.from({ length: SIDES }, (_, k) => {
    const a = (2 * Math.PI * k) / SIDES;
    return [radius * Math.cos(a), radius * Math.sin(a), z] as const;
  });

/** Rings of as many corners over one another, counter-clockwise from above, closed at both ends. */
function tower(rings: readonly (readonly Vec[])[]): FileMesh {
  const n = rings[0]!.length;
  const triangles: [number, number, number][] = [];
  const top = n * (rings.length - 1);
  for (let k = 2; k < n; k++) triangles.push([0, k, k - 1], [top, top + k - 1, top + k]);
  for (let r = 0; r < top; r += n) {
    for (let k = 0; k < n; k++) {
      const [a, b] = [r + k, r + ((k + 1) % n)];
      triangles.push([a, b, b + n], [a, b + n, a + n]);
    }
  }
  return { shape: 'mesh', vertices: rings.flat(), triangles };
}
