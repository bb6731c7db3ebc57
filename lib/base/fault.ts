/**
 * Faults and findings: bad input throws a Fault; a problem in a result is a Finding in the report.
 * An Error posted between threads loses its name and fields, so a Fault travels as plain data
 * (`toData`) and is made again on the other side (`Fault.fromData`).
 */

import { LONGEST_MESSAGE, printable } from './printable.js';

/** A place: a point in a named frame, or an element of the input (line, facet, key). All optional. */
export interface Place {
  /** Millimetres, in the frame that `frame` names. */
  readonly point?: readonly [number, number, number];
  readonly frame?: 'part' | 'build' | 'machine';
  /** Zero-based indices; messages count from one, as people and the program's comments do. */
  readonly region?: number;
  readonly layer?: number;
  /** Zero-based block of the motion; a finding of the report has the program's line instead. */
  readonly block?: number;
  /** One-based line and column of a text input or of the program. */
  readonly line?: number;
  readonly column?: number;
  /** Time in the program at its stated feeds, s. */
  readonly time?: number;
  /** Key path in a JSON input, such as `joints.C.speed`. */
  readonly key?: string;
  /** Name of the input file or sub-file. */
  readonly file?: string;
}

export interface FaultData {
  readonly code: string;
  readonly message: string;
  readonly at?: Place | undefined;
  /** All problems, the first included, where there is more than one. */
  readonly problems?: readonly FaultData[];
}

/** At most so many problems of one input are listed. */
const MOST_REPORTED = 20;

/**
 * Bad input. `code` is `area/what`, such as `mesh/open-edges`; the message gives value, limit and unit.
 * It is one line of visible text, whatever the names in it hold.
 */
export class Fault extends Error {
  readonly code: string;
  readonly at: Place | undefined;
  /** All problems, if there is more than one; the message is then the first of them and a count. */
  readonly problems: readonly FaultData[];

  constructor(code: string, message: string, at?: Place, problems: readonly FaultData[] = []) {
    super(printable(message, LONGEST_MESSAGE));
    this.name = 'Fault';
    this.code = code;
    this.at = at;
    this.problems = problems;
  }

  /** What crosses between threads, as plain data. */
  toData(): FaultData {
    const { code, message, at, problems } = this;
    return {
      code,
      message,
      ...(at ? { at: shownPlace(at) } : {}),
      ...(problems.length > 0
        ? { problems: problems.map((p) => new Fault(p.code, p.message, p.at).toData()) }
        : {}),
    };
  }

  /** The Fault that `toData` made the data of. */
  static fromData(data: FaultData): Fault {
    return new Fault(data.code, data.message, data.at, data.problems);
  }

  /** One Fault with all problems of an input, in the order of files and lines; at least one. */
  static of(problems: readonly FaultData[]): Fault {
    const files = problems.map(({ at }) => at?.file);
    const rank = ({ at }: FaultData): number[] => [
      files.indexOf(at?.file),
      at?.line ?? 0,
      at?.column ?? 0,
    ];
    const sorted = problems
      .map((problem) => ({ problem, rank: rank(problem) }))
      .sort((a, b) => a.rank.map((r, i) => r - b.rank[i]!).find((d) => d !== 0) ?? 0)
      .map(({ problem }) => problem);
    const first = sorted[0]!;
    if (sorted.length === 1) return Fault.fromData(first);
    const message = `${first.message} (and ${sorted.length - 1} more)`;
    const listed = sorted.slice(0, MOST_REPORTED);
    const left = sorted.length - listed.length;
    if (left > 0) listed.push({ code: first.code, message: `${left} more problems like these` });
    return new Fault(first.code, message, first.at, listed);
  }
}

/** Names in a place, made safe to show. */
function shownPlace({ key, file, ...rest }: Place): Place {
  return {
    ...rest,
    ...(key === undefined ? {} : { key: printable(key) }),
    ...(file === undefined ? {} : { file: printable(file, LONGEST_MESSAGE) }),
  };
}

/**
 * Collects the Faults of independent checks, so that a file can be corrected in one go.
 */
export class Problems {
  readonly #found: FaultData[] = [];

  /** The result of the work, or nothing if it met a Fault. */
  try<T>(work: () => T): T | undefined {
    try {
      return work();
    } catch (error) {
      if (!(error instanceof Fault)) throw error;
      this.add(error.problems.length > 0 ? error.problems : [error]);
      return undefined;
    }
  }

  add(found: readonly FaultData[]): void {
    for (const problem of found) this.#found.push(problem);
  }

  get some(): boolean {
    return this.#found.length > 0;
  }

  /** @throws Fault of all problems found; there must be one */
  end(): never {
    throw Fault.of(this.#found);
  }
}

export type Severity = 'note' | 'warning' | 'error';

/** A problem, or something worth knowing, in a result. */
export interface Finding {
  readonly code: string;
  readonly severity: Severity;
  readonly message: string;
  readonly at?: Place;
}

/** A finding with its text made safe to show. */
export const shownFinding = (finding: Finding): Finding => ({
  ...finding,
  message: printable(finding.message, LONGEST_MESSAGE),
  ...(finding.at ? { at: shownPlace(finding.at) } : {}),
});
