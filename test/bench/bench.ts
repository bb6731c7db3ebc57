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

/** Rows as a Markdown table. */
export function table(rows: readonly Row[]): string {
  const number = (x: number): string => (Math.abs(x) >= 100 ? x.toFixed(0) : x.toFixed(2));
  const wanted = ({ want: { least, most } }: Row): string =>
    [least === undefined ? '' : `at least ${least}`, most === undefined ? '' : `at most ${most}`]
      .filter(Boolean)
      .join(', ');
  const cells = rows.map((row) => [
    row.name.replaceAll('|', '/'),
    number(row.a),
    number(row.b),
    number(row.ratio),
    wanted(row),
    met(row) ? '' : 'short',
  ]);
  const line = (row: readonly string[]): string => `| ${row.join(' | ')} |`;
  return ['| | a | b | ratio | wanted | |', '|---|---|---|---|---|---|', ...cells.map(line)].join(
    '\n',
  );
}
