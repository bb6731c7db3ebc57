/**
 * The point of a simplex (1 to 4 vertices) nearest to the origin. Every face that contains the vertex added
 * last is tried and the nearest valid one is kept (Johnson's sub-distances, without his recursion; Gilbert,
 * Johnson and Keerthi, IEEE J. Robotics and Automation 4(2), 1988, from memory). Vertices lie packed xyz in
 * `v`; `share` gets their weights, 0 for what is dropped.
 */
export class NearestOnSimplex {
  readonly share = new Float64Array(4);
  /** Nearest point. */
  readonly p = new Float64Array(3);
  readonly #trial = new Float64Array(4);
  readonly #pick = new Int32Array(4);

  /** @returns square of the distance, 0 if the origin is inside the tetrahedron */
  of(v: Float64Array, count: number): number {
    const last = count - 1;
    let best = Infinity;
    for (let mask = 0; mask < 1 << last; mask++) {
      let n = 0;
      for (let i = 0; i < last; i++) if (mask & (1 << i)) this.#pick[n++] = i;
      this.#pick[n++] = last;
      if (!this.#weights(v, n)) continue;
      let [x, y, z] = [0, 0, 0];
      for (let k = 0; k < n; k++) {
        const at = 3 * this.#pick[k]!;
        const s = this.#trial[k]!;
        x += s * v[at]!;
        y += s * v[at + 1]!;
        z += s * v[at + 2]!;
      }
      const square = n === 4 ? 0 : x * x + y * y + z * z;
      if (square >= best) continue;
      best = square;
      this.share.fill(0);
      for (let k = 0; k < n; k++) this.share[this.#pick[k]!] = this.#trial[k]!;
      this.p[0] = x;
      this.p[1] = y;
      this.p[2] = z;
    }
    return best;
  }

  /** Weights of the picked vertices whose sum is nearest to the origin; false unless all are positive. */
  #weights(v: Float64Array, n: number): boolean {
    const t = this.#trial;
    const pick = this.#pick;
    if (n === 1) {
      t[0] = 1;
      return true;
    }
    const o = 3 * pick[n - 1]!;
    const [ox, oy, oz] = [v[o]!, v[o + 1]!, v[o + 2]!];
    const a = 3 * pick[0]!;
    const [ax, ay, az] = [v[a]! - ox, v[a + 1]! - oy, v[a + 2]! - oz];
    const aa = ax * ax + ay * ay + az * az;
    const ao = -(ax * ox + ay * oy + az * oz);
    if (n === 2) {
      if (!(aa > 0)) return false;
      t[0] = ao / aa;
      t[1] = 1 - t[0];
      return t[0] > 0 && t[1] > 0;
    }
    const b = 3 * pick[1]!;
    const [bx, by, bz] = [v[b]! - ox, v[b + 1]! - oy, v[b + 2]! - oz];
    if (n === 3) {
      // By the normal: the 2 x 2 system of dot products loses half the digits on slim triangles.
      const [nx, ny, nz] = [ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx];
      const nn = nx * nx + ny * ny + nz * nz;
      const bb = bx * bx + by * by + bz * bz;
      if (!(nn > FLAT_SINE_SQUARED * aa * bb)) return false;
      // -o = s a + t b + normal part: s = n.(-o x b) / nn, t = n.(a x -o) / nn.
      const s =
        (nx * (oz * by - oy * bz) + ny * (ox * bz - oz * bx) + nz * (oy * bx - ox * by)) / nn;
      const u =
        (nx * (az * oy - ay * oz) + ny * (ax * oz - az * ox) + nz * (ay * ox - ax * oy)) / nn;
      t[0] = s;
      t[1] = u;
      t[2] = 1 - s - u;
      return s > 0 && u > 0 && t[2] > 0;
    }
    const c = 3 * pick[2]!;
    const [cx, cy, cz] = [v[c]! - ox, v[c + 1]! - oy, v[c + 2]! - oz];
    const cc = cx * cx + cy * cy + cz * cz;
    const bb = bx * bx + by * by + bz * bz;
    const [mx, my, mz] = [by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx];
    const det = ax * mx + ay * my + az * mz;
    if (!(det * det > FLAT_SINE_SQUARED * aa * bb * cc)) return false;
    t[0] = -(ox * mx + oy * my + oz * mz) / det;
    t[1] = -(ox * (cy * az - cz * ay) + oy * (cz * ax - cx * az) + oz * (cx * ay - cy * ax)) / det;
    t[2] = -(ox * (ay * bz - az * by) + oy * (az * bx - ax * bz) + oz * (ax * by - ay * bx)) / det;
    t[3] = 1 - t[0] - t[1] - t[2];
    return t[0] > 0 && t[1] > 0 && t[2] > 0 && t[3] > 0;
  }
}

/** Square of a sine under which a face counts as no face. */
const FLAT_SINE_SQUARED = 1e-26;
