/** The arrows of the joints in the view, each with its letter, on what carries them. */
import {
  BufferGeometry,
  CanvasTexture,
  Color,
  ConeGeometry,
  Group,
  Line,
  LineBasicMaterial,
  LineDashedMaterial,
  Matrix4,
  Mesh,
  MeshBasicMaterial,
  Quaternion,
  SRGBColorSpace,
  Sprite,
  SpriteMaterial,
  Vector3,
} from 'three';
import {
  type JointArrow,
  arrowAtZero,
  arrowFrame,
  sizeOfTable,
} from '../../../commission/joint-arrows.js';
import type { Machine } from '../../../machine/machine.js';

export class AxisArrows {
  readonly group = new Group();
  readonly #machine: Machine;
  readonly #each: readonly Group[];

  constructor(machine: Machine) {
    this.#machine = machine;
    const size = sizeOfTable(machine);
    this.#each = machine.joints.map((_, j) => drawn(arrowAtZero(machine, j), size));
    for (const arrow of this.#each) arrow.matrixAutoUpdate = false;
    this.group.add(...this.#each);
  }

  pose(joints: Float64Array): void {
    this.#each.forEach((arrow, j) => {
      arrow.matrix.copy(new Matrix4().fromArray(arrowFrame(this.#machine, joints, j)));
      arrow.matrixWorldNeedsUpdate = true;
    });
  }
}

function drawn({ points, axis, label, colour, rgb }: JointArrow, size: number): Group {
  const group = new Group();
  const vectors = points.map((p) => new Vector3(...p));
  const [r, g, b] = rgb.map((c) => c / 255) as [number, number, number];
  const ink = new Color().setRGB(r, g, b, SRGBColorSpace);
  group.add(
    new Line(new BufferGeometry().setFromPoints(vectors), new LineBasicMaterial({ color: ink })),
  );
  const [before, end] = [vectors.at(-2)!, vectors.at(-1)!];
  const head = new Mesh(
    new ConeGeometry(0.05 * size, 0.16 * size, 20),
    new MeshBasicMaterial({ color: ink }),
  );
  const way = end.clone().sub(before).normalize();
  head.applyQuaternion(new Quaternion().setFromUnitVectors(new Vector3(0, 1, 0), way));
  head.position.copy(end);
  group.add(head);
  if (axis) {
    const line = new Line(
      new BufferGeometry().setFromPoints(axis.map((p) => new Vector3(...p))),
      new LineDashedMaterial({ color: ink, dashSize: 0.08 * size, gapSize: 0.05 * size }),
    );
    line.computeLineDistances();
    group.add(line);
  }
  const name = sprite(label, colour, 0.3 * size);
  name.position.copy(end).addScaledVector(way, 0.24 * size);
  group.add(name);
  return group;
}

/** A letter that always faces the view. */
function sprite(text: string, colour: string, height: number): Sprite {
  const canvas = document.createElement('canvas');
  [canvas.width, canvas.height] = [128, 96];
  const pen = canvas.getContext('2d')!;
  pen.font = 'bold 72px system-ui, sans-serif';
  pen.textAlign = 'center';
  pen.textBaseline = 'middle';
  pen.lineWidth = 10;
  pen.strokeStyle = 'rgba(255,255,255,0.85)';
  pen.strokeText(text, 64, 50);
  pen.fillStyle = colour;
  pen.fillText(text, 64, 50);
  const map = new CanvasTexture(canvas);
  map.colorSpace = SRGBColorSpace;
  const made = new Sprite(new SpriteMaterial({ map, depthTest: false }));
  made.scale.set((height * 4) / 3, height, 1);
  made.renderOrder = 5;
  return made;
}
