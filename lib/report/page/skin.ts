/** The part's surface over or instead of its beads: clear, or coloured by shape error. */
import {
  BufferAttribute,
  BufferGeometry,
  Color,
  DoubleSide,
  Mesh,
  MeshLambertMaterial,
} from 'three';
import { diverging } from '../diverging.js';
import type { Model } from './model.js';
import type { State } from './store.js';

export class SkinMesh {
  readonly mesh: Mesh;
  /** The error at the ends of the scale, mm. */
  readonly most: number;
  readonly #clear: MeshLambertMaterial;
  readonly #coloured: MeshLambertMaterial;

  constructor({ skin }: Model) {
    const corners = new Float32Array(3 * skin.triangles.length);
    const geometry = new BufferGeometry();
    skin.triangles.forEach((v, i) => {
      for (let c = 0; c < 3; c++) corners[3 * i + c] = skin.vertices[3 * v + c]!;
    });
    geometry.setAttribute('position', new BufferAttribute(corners, 3));
    geometry.computeVertexNormals();
    this.most = scaleEnd(skin.error);
    if (skin.error) {
      const colours = new Uint8Array(3 * skin.triangles.length);
      skin.triangles.forEach((v, i) => colours.set(diverging(skin.error![v]! / this.most), 3 * i));
      geometry.setAttribute('color', new BufferAttribute(colours, 3, true));
    }
    this.#clear = new MeshLambertMaterial({
      transparent: true,
      opacity: 0.22,
      depthWrite: false,
      side: DoubleSide,
    });
    this.#coloured = new MeshLambertMaterial({ vertexColors: true, side: DoubleSide });
    this.mesh = new Mesh(geometry, this.#clear);
    this.mesh.renderOrder = 1;
  }

  show(skin: State['skin']): void {
    this.mesh.visible = skin !== 'hidden';
    this.mesh.material = skin === 'error' ? this.#coloured : this.#clear;
  }

  recolour(colour: string): void {
    this.#clear.color = new Color(colour);
  }
}

/** What 98 of 100 vertices stay under, at least 0.05 mm. */
function scaleEnd(error: Float32Array | undefined): number {
  if (!error) return 1;
  const sizes = Float32Array.from(error, Math.abs)
    .filter((x) => !Number.isNaN(x))
    .sort();
  return Math.max(0.05, sizes[Math.floor(0.98 * sizes.length)] ?? 0);
}
