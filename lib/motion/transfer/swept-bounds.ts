/**
 * How far table and part reach, for transfers over everything: the table exactly, the regions printed so
 * far as boxes that contain their surface, so that heights err only to the high side; part frame, mm.
 */
import type { Mesh } from '../../base/mesh.js';
import { type Vec3, along, dot, length, sub } from '../../base/vector.js';
import type { Machine } from '../../machine/machine.js';
import type { Boxes } from '../../order/boxes.js';

/** Table and printed regions together. */
export interface Bulk {
  readonly machine: Machine;
  readonly printed: readonly Boxes[];
  /** Greatest distance of anything from the part origin, mm. */
  readonly radius: number;
}

export function bulkOf(machine: Machine, printed: readonly Boxes[]): Bulk {
  const { face, tableThickness, tableMesh } = machine;
  const rim = face.shape === 'disc' ? face.radius : Math.hypot(...face.size) / 2;
  const table = tableMesh ? farthest(tableMesh) : Math.hypot(rim, tableThickness);
  const balls = printed.map(ballOf);
  const radius = balls.reduce(
    (most, ball) => Math.max(most, Math.hypot(...ball.centre) + ball.radius),
    table,
  );
  return { machine, printed, radius };
}

/** Distance of the farthest vertex from the origin, mm. */
function farthest({ vertices: v }: Mesh): number {
  let most = 0;
  for (let i = 0; i < v.length; i += 3) {
    most = Math.max(most, Math.hypot(v[i]!, v[i + 1]!, v[i + 2]!));
  }
  return most;
}

function ballOf(boxes: Boxes): { centre: Vec3; radius: number } {
  const low: [number, number, number] = [Infinity, Infinity, Infinity];
  const high: [number, number, number] = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < boxes.length; i += 6) {
    for (let c = 0; c < 3; c++) {
      low[c] = Math.min(low[c]!, boxes[i + c]!);
      high[c] = Math.max(high[c]!, boxes[i + 3 + c]!);
    }
  }
  const across = sub(high, low);
  return { centre: along(low, across, 0.5), radius: length(across) / 2 };
}

/** How far table and printed regions reach along the unit direction d of the part frame, mm. */
export function extent(bulk: Bulk, d: Vec3): number {
  let most = tableExtent(bulk.machine, d);
  const [dx, dy, dz] = d;
  // The corner of a box that lies farthest along d is the same one for every box.
  const x = dx > 0 ? 3 : 0;
  const y = dy > 0 ? 4 : 1;
  const z = dz > 0 ? 5 : 2;
  for (const boxes of bulk.printed) {
    for (let i = 0; i < boxes.length; i += 6) {
      const reach = dx * boxes[i + x]! + dy * boxes[i + y]! + dz * boxes[i + z]!;
      if (reach > most) most = reach;
    }
  }
  return most;
}

function tableExtent(machine: Machine, d: Vec3): number {
  const { face, tableMesh } = machine;
  if (tableMesh) return meshExtent(tableMesh, d);
  const across =
    face.shape === 'disc'
      ? face.radius * Math.hypot(d[0], d[1])
      : (Math.abs(d[0]) * face.size[0] + Math.abs(d[1]) * face.size[1]) / 2;
  return across + Math.max(0, -d[2] * machine.tableThickness);
}

function meshExtent({ vertices: v }: Mesh, [x, y, z]: Vec3): number {
  let most = -Infinity;
  for (let i = 0; i < v.length; i += 3) {
    most = Math.max(most, x * v[i]! + y * v[i + 1]! + z * v[i + 2]!);
  }
  return most;
}

/**
 * How far the plane through the nozzle tip square to the head stands clear of everything, mm. The
 * whole head is on the far side of that plane, so a positive value keeps all of it clear.
 */
export const clearOf = (bulk: Bulk, tip: Vec3, d: Vec3): number => dot(d, tip) - extent(bulk, d);
