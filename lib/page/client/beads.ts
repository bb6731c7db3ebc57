/**
 * Beads and moves as instanced meshes: each block is a strip that faces the viewer, as wide as its bead
 * looks from there and shaded as if it were round. There is one draw call for each section of PER
 * links, so that a picture can be drawn in steps. Rejected: boxes of 12 triangles; strips of 2 cost a
 * sixth of the triangles and look rounder.
 */
import {
  BufferAttribute,
  DoubleSide,
  GLSL3,
  Group,
  InstancedBufferAttribute,
  InstancedBufferGeometry,
  InstancedInterleavedBuffer,
  InterleavedBufferAttribute,
  Mesh,
  RawShaderMaterial,
  Vector2,
} from 'three';
import { type BeadChain, OCTAHEDRON_STEPS, STORED_STEP, coarseChain, fineChain } from './chain.js';
import { type PageModel, firstAtLeast } from './model.js';

const vertex = /* glsl */ `
precision highp float;
precision highp int;
uniform mat4 modelViewMatrix, projectionMatrix;
uniform mat3 normalMatrix;
uniform vec2 viewport;
uniform float base, first, last, share, moves, thin;
in vec2 corner;
in vec3 begin, end;
in vec4 colour;
in vec4 size;
out vec3 tint;
out vec3 side, facing;
out float across;
// What chain.ts puts into 16 bits.
vec3 directionOf(float code) {
  float high = floor(code / 256.0);
  vec2 p = vec2(high, code - 256.0 * high) / ${OCTAHEDRON_STEPS.toFixed(1)} - 1.0;
  vec3 d = vec3(p, 1.0 - abs(p.x) - abs(p.y));
  vec2 folded = (1.0 - abs(p.yx)) * vec2(p.x < 0.0 ? -1.0 : 1.0, p.y < 0.0 ? -1.0 : 1.0);
  return normalize(d.z < 0.0 ? vec3(folded, d.z) : d);
}
void main() {
  float id = base + float(gl_InstanceID);
  float kind = size.w;
  bool lays = kind < 0.5;
  if (id < first || id > last || (!lays && (moves < 0.5 || kind > 2.5))) {
    gl_Position = vec4(2.0, 2.0, 2.0, 1.0);
    return;
  }
  vec3 stop = id > last - 0.5 ? mix(begin, end, share) : end;
  vec3 up = directionOf(size.z);
  float halfWide = lays ? 0.5 * size.x * ${STORED_STEP.toFixed(2)} : 0.0;
  float halfHigh = lays ? 0.5 * size.y * ${STORED_STEP.toFixed(2)} : 0.0;
  vec3 a = (modelViewMatrix * vec4(begin - up * halfHigh, 1.0)).xyz;
  vec3 b = (modelViewMatrix * vec4(stop - up * halfHigh, 1.0)).xyz;
  vec3 along = b - a;
  float reach = length(along);
  along = reach > 1e-6 ? along / reach : vec3(1.0, 0.0, 0.0);
  vec3 here = mix(a, b, corner.x);
  vec3 sight = normalize(-here);
  vec3 s = cross(along, sight);
  s = length(s) > 1e-4 ? normalize(s) : vec3(0.0, 1.0, 0.0);
  vec3 upView = normalize(normalMatrix * up);
  vec3 flank = cross(upView, along);
  flank = length(flank) > 1e-4 ? normalize(flank) : s;
  float extent = length(vec2(halfWide * dot(s, flank), halfHigh * dot(s, upView)));
  float pixel = -here.z / (projectionMatrix[1][1] * 0.5 * viewport.y);
  extent = max(extent, (lays ? thin : 0.5) * pixel);
  float over = lays ? min(extent, halfWide) * 0.7 : 0.0;
  here += along * over * (corner.x * 2.0 - 1.0) + s * extent * corner.y;
  gl_Position = projectionMatrix * vec4(here, 1.0);
  tint = colour.rgb;
  side = s;
  facing = normalize(cross(s, along) * sign(dot(cross(s, along), sight)));
  across = lays ? corner.y : 2.0;
}`;

const fragment = /* glsl */ `
precision highp float;
in vec3 tint;
in vec3 side, facing;
in float across;
out vec4 pixel;
void main() {
  if (across > 1.5) { pixel = vec4(tint, 1.0); return; }
  vec3 n = normalize(side * across + facing * sqrt(max(0.0, 1.0 - across * across)));
  float key = max(0.0, dot(n, normalize(vec3(-0.45, 0.65, 0.62))));
  float fill = 0.5 + 0.5 * n.y;
  float edge = 1.0 - 0.25 * across * across;
  pixel = vec4(tint * (0.46 + 0.16 * fill + 0.46 * key) * edge, 1.0);
}`;

/** The order of drawing, as camera layers: bodies first, then beads in steps, then what is over them. */
export const Pass = { bodies: 0, beads: 1, over: 2 } as const;

/** What colours a block: red, green, blue, 0 to 255, written at `at`. */
export type Paint = (b: number, out: Uint8Array, at: number) => void;

type Uniforms = Record<string, { value: unknown }>;

/** Links per section. */
const PER = 1 << 15;

/** A section of a chain on the graphics card; it gets its colours when it is drawn. */
class ChainSection {
  readonly mesh: Mesh;
  readonly #block: Uint32Array;
  readonly #geometry = new InstancedBufferGeometry();
  readonly #colour: InstancedBufferAttribute;
  #paint: Paint | undefined;

  constructor(
    chain: BeadChain,
    readonly from: number,
    uniforms: Uniforms,
  ) {
    const to = Math.min(chain.block.length, from + PER);
    this.#block = chain.block.subarray(from, to);
    const points = new InstancedInterleavedBuffer(chain.points.subarray(3 * from, 3 * to + 3), 3);
    const size = chain.size.subarray(4 * from, 4 * to);
    this.#colour = new InstancedBufferAttribute(new Uint8Array(4 * (to - from)), 4, true);
    const g = this.#geometry;
    g.setAttribute('corner', new BufferAttribute(new Float32Array([0, -1, 1, -1, 0, 1, 1, 1]), 2));
    g.setIndex([0, 1, 2, 2, 1, 3]);
    // The end of a link is the start of the next one: both read the same numbers.
    g.setAttribute('begin', new InterleavedBufferAttribute(points, 3, 0));
    g.setAttribute('end', new InterleavedBufferAttribute(points, 3, 3));
    g.setAttribute('colour', this.#colour);
    g.setAttribute('size', new InstancedBufferAttribute(size, 4));
    // All but the offset of the section is shared by all sections.
    const material = new RawShaderMaterial({
      glslVersion: GLSL3,
      vertexShader: vertex,
      fragmentShader: fragment,
      uniforms: { ...uniforms, base: { value: from } },
      side: DoubleSide,
    });
    this.mesh = new Mesh(g, material);
    this.mesh.frustumCulled = false;
  }

  paint(paint: Paint): void {
    this.#paint = paint;
  }

  /** Draws the links up to `links` of the whole chain, or nothing. */
  show(links: number): void {
    const own = Math.min(this.#block.length, links - this.from);
    this.mesh.visible = own > 0;
    if (!this.mesh.visible) return;
    this.#geometry.instanceCount = own;
    if (!this.#paint) return;
    const out = this.#colour.array as Uint8Array;
    this.#block.forEach((b, i) => this.#paint!(b, out, 4 * i));
    this.#colour.needsUpdate = true;
    this.#paint = undefined;
  }

  hide(): void {
    this.mesh.visible = false;
  }
}

/** A chain in its sections. */
class ChainSections {
  readonly sections: readonly ChainSection[];
  readonly #chain: BeadChain;

  constructor(chain: BeadChain, uniforms: Uniforms) {
    this.#chain = chain;
    const count = Math.ceil(chain.block.length / PER);
    this.sections = Array.from(
      { length: count },
      (_, i) => new ChainSection(chain, i * PER, uniforms),
    );
  }

  /** Where a block is in the chain, as a number of links and a share of the next. */
  place(block: number, share: number): readonly [number, number] {
    const i = firstAtLeast(this.#chain.block, block);
    const before = i > 0 ? this.#chain.block[i - 1]! : -1;
    return [i, (block - before - 1 + share) / (this.#chain.block[i]! - before)];
  }
}

interface Shown {
  readonly first: number;
  readonly last: number;
  readonly share: number;
  readonly moves: boolean;
}

export class BeadsView {
  readonly group = new Group();
  readonly #model: PageModel;
  readonly #fine: ChainSections;
  /** Made when it is first asked for. */
  #coarse: ChainSections | undefined;
  readonly #uniforms: Uniforms;
  #drawn: ChainSections;
  #paint: Paint | undefined;
  #shown: Shown = { first: 0, last: 0, share: 1, moves: false };
  #links = 0;

  constructor(model: PageModel) {
    this.#model = model;
    this.#uniforms = {
      viewport: { value: new Vector2(1, 1) },
      first: { value: 0 },
      last: { value: 0 },
      share: { value: 1 },
      moves: { value: 0 },
      thin: { value: 0.6 },
    };
    this.#fine = this.#add(fineChain(model));
    this.#drawn = this.#fine;
  }

  paint(paint: Paint): void {
    this.#paint = paint;
    for (const section of this.#fine.sections) section.paint(paint);
    for (const section of this.#coarse?.sections ?? []) section.paint(paint);
  }

  /** Draws neighbouring blocks as one, or each by itself. */
  coarser(coarse: boolean): void {
    for (const section of this.#drawn.sections) section.hide();
    if (coarse && !this.#coarse) {
      this.#coarse = this.#add(coarseChain(this.#model));
      if (this.#paint) this.paint(this.#paint);
    }
    this.#drawn = coarse ? this.#coarse! : this.#fine;
    this.show(this.#shown);
  }

  /** Shows blocks first to last, of the last one a share. */
  show(shown: Shown): void {
    this.#shown = shown;
    const [last, share] = this.#drawn.place(shown.last, shown.share);
    const u = this.#uniforms;
    u['first']!.value = this.#drawn.place(shown.first, 0)[0];
    u['last']!.value = last;
    u['share']!.value = share;
    u['moves']!.value = shown.moves ? 1 : 0;
    this.#links = last + 1;
  }

  /** Sections that a whole picture takes. */
  get steps(): number {
    return Math.ceil(this.#links / PER);
  }

  /** Only sections from .. to (exclusive) are drawn next. */
  step(from: number, to: number): void {
    this.#drawn.sections.forEach((section, i) => {
      if (i >= from && i < to) section.show(this.#links);
      else section.hide();
    });
  }

  viewport(width: number, height: number): void {
    (this.#uniforms['viewport']!.value as Vector2).set(width, height);
  }

  #add(chain: BeadChain): ChainSections {
    const strips = new ChainSections(chain, this.#uniforms);
    for (const section of strips.sections) {
      section.hide();
      section.mesh.layers.set(Pass.beads);
      this.group.add(section.mesh);
    }
    return strips;
  }
}
