/**
 * What a bench is: a module `*.bench.ts` that exports `run(): Promise<Row[]>`. Each row compares two
 * ways in one run, and its ratio is what counts: times differ from machine to machine. Nothing here
 * gates; a ratio that falls short is printed as such.
 */
export interface Row {
  readonly name: string;
  /** The two figures compared: ms unless the name says otherwise. */
  readonly a: number;
  readonly b: number;
  /** What the row is about: usually b / a, how many times a is faster. */
  readonly ratio: number;
  /** The ratio wanted: at least or at most this. */
  readonly want: { readonly least?: number; readonly most?: number };
}

export interface Bench {
  run(): Promise<Row[]>;
}

/**
 * Least time of `runs` calls, after one that warms up, ms: what else runs on the machine only adds.
 */
export function timed(work: () => unknown, runs = 7): number {
  work();
  let least = Infinity;
  for (let i = 0; i < runs; i++) {
    const start = performance.now();
    work();
    least = Math.min(least, performance.now() - start);
  }
  return least;
}

export function met({ ratio, want }: Row): boolean {
  return ratio >= (want.least ?? -Infinity) && ratio <= (want.most ?? Infinity);
}

/** Rows as a table for people. */
export function table(rows: readonly Row[]): string {
  const number = (x: number): string => (Math.abs(x) >= 100 ? x.toFixed(0) : x.toFixed(2));
  const cells = [
    ['', 'a', 'b', 'ratio', 'wanted', ''],
    ...rows.map((row) => [
      row.name,
      number(row.a),
      number(row.b),
      number(row.ratio),
      [
        row.want.least === undefined ? '' : `>= ${row.want.least}`,
        row.want.most === undefined ? '' : `<= ${row.want.most}`,
      ]
        .join(' ')
        .trim(),
      met(row) ? '' : 'short',
    ]),
  ];
  const widths = cells[0]!.map((_, c) => Math.max(...cells.map((row) => row[c]!.length)));
  return cells
    .map((row) =>
      row
        .map((cell, c) => (c === 0 ? cell.padEnd(widths[c]!) : cell.padStart(widths[c]!)))
        .join('  ')
        .trimEnd(),
    )
    .join('\n');
}
