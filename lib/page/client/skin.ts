/** The part's surface, translucent, over its beads. */
import {
  BufferAttribute,
  BufferGeometry,
  Color,
  DoubleSide,
  Mesh,
  MeshLambertMaterial,
} from 'three';
import type { PageModel } from './model.js';

export class SkinMesh {
  readonly mesh: Mesh;
  readonly #material = new MeshLambertMaterial({
    transparent: true,
    opacity: 0.22,
    depthWrite: false,
    side: DoubleSide,
  });

  constructor({ skin }: PageModel) {
    const corners = new Float32Array(3 * skin.triangles.length);
    skin.triangles.forEach((v, i) => {
      for (let c = 0; c < 3; c++) corners[3 * i + c] = skin.vertices[3 * v + c]!;
    });
    const geometry = new BufferGeometry();
    geometry.setAttribute('position', new BufferAttribute(corners, 3));
    geometry.computeVertexNormals();
    this.mesh = new Mesh(geometry, this.#material);
    this.mesh.renderOrder = 1;
  }

  recolour(colour: string): void {
    this.#material.color = new Color(colour);
  }
}
