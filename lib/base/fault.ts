/**
 * Faults and findings: bad input throws a Fault; a problem in a result is a Finding in the report.
 * An Error posted between threads loses its name and fields, so a Fault travels as plain data
 * (`toData`) and is made again on the other side (`Fault.fromData`).
 */

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
  readonly at?: Place;
}

/** Bad input. `code` is `area/what`, such as `mesh/open-edges`; the message gives value, limit and unit. */
export class Fault extends Error {
  readonly code: string;
  readonly at: Place | undefined;

  constructor(code: string, message: string, at?: Place) {
    super(message);
    this.name = 'Fault';
    this.code = code;
    this.at = at;
  }

  toData(): FaultData {
    return { code: this.code, message: this.message, ...(this.at ? { at: this.at } : {}) };
  }

  static fromData(data: FaultData): Fault {
    return new Fault(data.code, data.message, data.at);
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
