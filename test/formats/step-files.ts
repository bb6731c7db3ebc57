/**
 * STEP files written by hand: exchange structure of ISO 10303-21, shapes of ISO 10303-42, products and
 * assemblies as ISO 10303-203 puts them together. What is written is plain text, so a test can spoil it.
 */
type Point = readonly [number, number, number];

/** Units of length as a data section states them: name and the instances' text. */
const LENGTHS = {
  millimetre: () => '(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))',
  metre: () => '(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT($,.METRE.))',
  inch: (add: (text: string) => string) => {
    const si = add('(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))');
    const measure = add(`LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(25.4),${si})`);
    const exponents = add('DIMENSIONAL_EXPONENTS(1.,0.,0.,0.,0.,0.,0.)');
    return `(CONVERSION_BASED_UNIT('INCH',${measure})LENGTH_UNIT()NAMED_UNIT(${exponents}))`;
  },
} as const;

const SCHEMAS = {
  203: 'CONFIG_CONTROL_DESIGN',
  214: 'AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }',
  242: 'AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF { 1 0 10303 442 1 1 4 }',
} as const;

export interface StepOptions {
  readonly unit?: keyof typeof LENGTHS | 'none';
  readonly protocol?: keyof typeof SCHEMAS;
}

const real = (x: number): string => (Number.isInteger(x) ? `${x}.` : String(x).replace('e', 'E'));

export class StepFile {
  readonly #lines: string[] = [];
  readonly #options: StepOptions;
  readonly #context: string;
  readonly #application: string;

  constructor(options: StepOptions = {}) {
    this.#options = options;
    const { unit = 'millimetre' } = options;
    const angle = this.add('(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))');
    const solid = this.add('(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())');
    const length = unit === 'none' ? [] : [this.add(LENGTHS[unit]((text) => this.add(text)))];
    const units = [...length, angle, solid].join(',');
    this.#context = this.add(
      `(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNIT_ASSIGNED_CONTEXT((${units}))REPRESENTATION_CONTEXT('',''))`,
    );
    this.#application = this.add("APPLICATION_CONTEXT('mechanical design')");
  }

  /** @returns the name of the new instance, such as `#12` */
  add(text: string): string {
    this.#lines.push(`#${this.#lines.length + 1}=${text};`);
    return `#${this.#lines.length}`;
  }

  point = (p: Point): string => this.add(`CARTESIAN_POINT('',(${p.map(real).join(',')}))`);
  direction = (p: Point): string => this.add(`DIRECTION('',(${p.map(real).join(',')}))`);
  placement = (at: Point, z: Point = [0, 0, 1], x: Point = [1, 0, 0]): string =>
    this.add(`AXIS2_PLACEMENT_3D('',${this.point(at)},${this.direction(z)},${this.direction(x)})`);
  vertex = (p: Point): string => this.add(`VERTEX_POINT('',${this.point(p)})`);

  line(from: Point, to: Point): string {
    const way = to.map((x, i) => x - from[i]!) as unknown as Point;
    const vector = this.add(`VECTOR('',${this.direction(way)},1.)`);
    return this.add(`LINE('',${this.point(from)},${vector})`);
  }

  edge = (a: string, b: string, curve: string): string =>
    this.add(`EDGE_CURVE('',${a},${b},${curve},.T.)`);

  /** A face with one loop; an edge with a minus before it is passed backwards. */
  face(surface: string, loop: readonly string[], same = true): string {
    const edges = loop.map((e) =>
      this.add(`ORIENTED_EDGE('',*,*,${e.replace('-', '')},${e.startsWith('-') ? '.F.' : '.T.'})`),
    );
    const bound = this.add(
      `FACE_OUTER_BOUND('',${this.add(`EDGE_LOOP('',(${edges.join(',')}))`)},.T.)`,
    );
    return this.add(`ADVANCED_FACE('',(${bound}),${surface},${same ? '.T.' : '.F.'})`);
  }

  shell = (faces: readonly string[], kind = 'CLOSED_SHELL'): string =>
    this.add(`${kind}('',(${faces.join(',')}))`);
  solid = (faces: readonly string[], name = 'block'): string =>
    this.add(`MANIFOLD_SOLID_BREP('${name}',${this.shell(faces)})`);

  /** The six faces of a box from its lowest corner. */
  boxFaces([x, y, z]: Point, [a, b, c]: Point): string[] {
    const corners = [0, 1, 2, 3, 4, 5, 6, 7].map((i): Point => [
      x + (i & 1 ? a : 0),
      y + (i & 2 ? b : 0),
      z + (i & 4 ? c : 0),
    ]);
    const vertices = corners.map((p) => this.vertex(p));
    const edges = new Map<string, string>();
    const between = (i: number, j: number): string => {
      const key = `${Math.min(i, j)}-${Math.max(i, j)}`;
      if (i > j) return `-${between(j, i)}`;
      const known = edges.get(key);
      if (known) return known;
      const made = this.edge(vertices[i]!, vertices[j]!, this.line(corners[i]!, corners[j]!));
      edges.set(key, made);
      return made;
    };
    const sides: [number[], Point, Point][] = [
      [
        [0, 2, 3, 1],
        [0, 0, -1],
        [1, 0, 0],
      ],
      [
        [4, 5, 7, 6],
        [0, 0, 1],
        [1, 0, 0],
      ],
      [
        [0, 1, 5, 4],
        [0, -1, 0],
        [1, 0, 0],
      ],
      [
        [2, 6, 7, 3],
        [0, 1, 0],
        [1, 0, 0],
      ],
      [
        [0, 4, 6, 2],
        [-1, 0, 0],
        [0, 1, 0],
      ],
      [
        [1, 3, 7, 5],
        [1, 0, 0],
        [0, 1, 0],
      ],
    ];
    return sides.map(([loop, normal, across]) => {
      const plane = this.add(`PLANE('',${this.placement(corners[loop[0]!]!, normal, across)})`);
      return this.face(
        plane,
        loop.map((i, k) => between(i, loop[(k + 1) % 4]!)),
      );
    });
  }

  box = (at: Point, size: Point, name?: string): string =>
    this.solid(this.boxFaces(at, size), name);

  /** A cylinder on the origin, along Z. */
  cylinder(radius: number, height: number): string {
    const circle = (z: number): string =>
      this.add(`CIRCLE('',${this.placement([0, 0, z])},${real(radius)})`);
    const [low, high] = [this.vertex([radius, 0, 0]), this.vertex([radius, 0, height])];
    const [below, above] = [this.edge(low, low, circle(0)), this.edge(high, high, circle(height))];
    const seam = this.edge(low, high, this.line([radius, 0, 0], [radius, 0, height]));
    const side = this.add(`CYLINDRICAL_SURFACE('',${this.placement([0, 0, 0])},${real(radius)})`);
    const plane = (z: number, way: number): string =>
      this.add(`PLANE('',${this.placement([0, 0, z], [0, 0, way])})`);
    return this.solid(
      [
        this.face(side, [below, seam, `-${above}`, `-${seam}`]),
        this.face(plane(0, -1), [`-${below}`]),
        this.face(plane(height, 1), [above]),
      ],
      'cylinder',
    );
  }

  /** A torus about Z through the origin. */
  torus(middle: number, tube: number): string {
    const outer = middle + tube;
    const vertex = this.vertex([outer, 0, 0]);
    const around = this.edge(
      vertex,
      vertex,
      this.add(`CIRCLE('',${this.placement([0, 0, 0])},${real(outer)})`),
    );
    const across = this.edge(
      vertex,
      vertex,
      this.add(`CIRCLE('',${this.placement([middle, 0, 0], [0, -1, 0])},${real(tube)})`),
    );
    const surface = this.add(
      `TOROIDAL_SURFACE('',${this.placement([0, 0, 0])},${real(middle)},${real(tube)})`,
    );
    return this.solid([this.face(surface, [around, across, `-${around}`, `-${across}`])], 'ring');
  }

  /** A product with its shape. */
  product(
    name: string,
    items: readonly string[],
    kind = 'ADVANCED_BREP_SHAPE_REPRESENTATION',
  ): { readonly definition: string; readonly shape: string } {
    const context = this.add(`PRODUCT_CONTEXT('',${this.#application},'mechanical')`);
    const product = this.add(`PRODUCT('${name}','${name}','',(${context}))`);
    const formation = this.add(`PRODUCT_DEFINITION_FORMATION('','',${product})`);
    const design = this.add(
      `PRODUCT_DEFINITION_CONTEXT('part definition',${this.#application},'design')`,
    );
    const definition = this.add(`PRODUCT_DEFINITION('','',${formation},${design})`);
    const whole = this.add(`PRODUCT_DEFINITION_SHAPE('','',${definition})`);
    const shape = this.add(`${kind}('${name}',(${items.join(',')}),${this.#context})`);
    this.add(`SHAPE_DEFINITION_REPRESENTATION(${whole},${shape})`);
    return { definition, shape };
  }

  /** An assembly of products, each in as many places as are given. */
  assembly(
    name: string,
    parts: readonly {
      readonly of: { readonly definition: string; readonly shape: string };
      readonly at: { readonly from: string; readonly to: string };
    }[],
  ): { readonly definition: string; readonly shape: string } {
    const whole = this.product(
      name,
      parts.map(({ at }) => at.to),
      'SHAPE_REPRESENTATION',
    );
    parts.forEach(({ of, at }, i) => {
      const usage = this.add(
        `NEXT_ASSEMBLY_USAGE_OCCURRENCE('${i}','${name} ${i}','',${whole.definition},${of.definition},$)`,
      );
      const placed = this.add(`PRODUCT_DEFINITION_SHAPE('','',${usage})`);
      const moved = this.add(`ITEM_DEFINED_TRANSFORMATION('','',${at.from},${at.to})`);
      const relation = this.add(
        `(REPRESENTATION_RELATIONSHIP('','',${of.shape},${whole.shape})REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION(${moved})SHAPE_REPRESENTATION_RELATIONSHIP())`,
      );
      this.add(`CONTEXT_DEPENDENT_SHAPE_REPRESENTATION(${relation},${placed})`);
    });
    return whole;
  }

  toString(): string {
    return [
      'ISO-10303-21;',
      'HEADER;',
      "FILE_DESCRIPTION(('a test'),'2;1');",
      "FILE_NAME('test.stp','2026-01-01T00:00:00',(''),(''),'','','');",
      `FILE_SCHEMA(('${SCHEMAS[this.#options.protocol ?? 214]}'));`,
      'ENDSEC;',
      'DATA;',
      ...this.#lines,
      'ENDSEC;',
      'END-ISO-10303-21;',
      '',
    ].join('\n');
  }

  bytes = (): Uint8Array => new TextEncoder().encode(this.toString());
}
