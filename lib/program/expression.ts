/**
 * Values of RS-274/NGC: plain numbers, parameters (#3), expressions in brackets and functions, all
 * angles in degrees. Operators bind in three steps: ** first, then * / MOD, then + - AND OR XOR;
 * equal ones from the left.
 */
import { DEG } from '../base/vector.js';

/** The position of reading in a line; `at` advances. */
export interface Cursor {
  readonly text: string;
  at: number;
  readonly end: number;
  readonly parameters: Float64Array;
  /**
   * If E is a letter that may follow a number: refuses a number that continues with an exponent as JavaScript
   * writes it, "1e-7", or as in "X1e3", without a blank and with a whole exponent.
   */
  readonly exponentIfInteger: boolean;
  skip(): void;
  fault(what: string, message: string, at?: number): never;
}

/** Powers of ten that are exact in float64. */
const EXACT_POWERS = Array.from({ length: 23 }, (_, i) => Number(`1e${i}`));
/** Digits whose whole number is exact in float64. */
const EXACT_DIGITS = 15;

/** Reads one value at the cursor. */
export function readReal(c: Cursor): number {
  if (c.at >= c.end) c.fault('bad-number', 'the line ends where a number must stand');
  const code = c.text.charCodeAt(c.at);
  if ((code >= 48 && code <= 57) || code === 46) return readNumber(c);
  if (code === 91) return readBracket(c);
  if (code === 35) return readParameter(c);
  if (code === 43 || code === 45) {
    c.at++;
    c.skip();
    const value = readUnsigned(c);
    return code === 45 ? -value : value;
  }
  if (isLetter(code)) return readFunction(c);
  return c.fault('bad-number', `"${c.text[c.at]}" where a number must stand`);
}

function readUnsigned(c: Cursor): number {
  const code = c.at < c.end ? c.text.charCodeAt(c.at) : 0;
  if (code === 43 || code === 45) c.fault('bad-number', 'two signs');
  return readReal(c);
}

/** digits, a point, digits, with at least one digit; blanks between them mean nothing. */
function readNumber(c: Cursor): number {
  const start = c.at;
  let mantissa = 0;
  let digits = 0;
  let decimals = -1;
  let last = -1;
  for (; c.at < c.end; c.at++) {
    const code = c.text.charCodeAt(c.at);
    if (code >= 48 && code <= 57) {
      mantissa = mantissa * 10 + (code - 48);
      if (mantissa > 0) digits++;
      if (decimals >= 0) decimals++;
      last = c.at;
    } else if (code === 46) {
      if (decimals >= 0) break;
      decimals = 0;
    } else if (code !== 32 && code !== 9) break;
  }
  if (last < 0) c.fault('bad-number', `"${c.text.slice(start, start + 8)}" has no digit`, start);
  refuseExponent(c);
  if (digits <= EXACT_DIGITS && decimals < EXACT_POWERS.length) {
    return decimals > 0 ? mantissa / EXACT_POWERS[decimals]! : mantissa;
  }
  return Number(c.text.slice(start, c.at).replace(/[ \t]/g, ''));
}

function refuseExponent(c: Cursor): void {
  if (!c.exponentIfInteger || c.at >= c.end) return;
  if ((c.text.charCodeAt(c.at) & 0xdf) !== 69) return;
  const before = c.text.charCodeAt(c.at - 1);
  if (before === 32 || before === 9) return;
  const tail = /^(?:[eE][+-]\d+|e\d+)(?![\d.])/.exec(c.text.slice(c.at, Math.min(c.end, c.at + 8)));
  if (tail && (/[+-]/.test(tail[0]) || afterCapital(c))) {
    c.fault(
      'exponent',
      `"${tail[0]}" after a number: RS-274 numbers have no exponent (put a blank before E if it meters filament)`,
    );
  }
}

/** Whether the letter before the number is a capital: nobody writes two words as `X1e3`, but as `x1e3`. */
const afterCapital = (c: Cursor): boolean =>
  /[A-Z][^A-Za-z]*$/.test(c.text.slice(Math.max(0, c.at - 40), c.at));

/** `#3`, `##3`, `#[1+2]`. */
function readParameter(c: Cursor): number {
  const start = c.at++;
  c.skip();
  const index = readReal(c);
  const whole = Math.round(index);
  if (Math.abs(index - whole) > 1e-4 || whole < 1 || whole >= c.parameters.length) {
    c.fault('bad-parameter', `#${index} is not among 1 to ${c.parameters.length - 1}`, start);
  }
  return c.parameters[whole]!;
}

function readBracket(c: Cursor): number {
  const start = c.at++;
  const value = readSum(c);
  if (c.at >= c.end || c.text[c.at] !== ']') {
    c.fault('bad-expression', 'a bracket that is not closed', start);
  }
  c.at++;
  return value;
}

function readSum(c: Cursor): number {
  let value = readProduct(c);
  for (;;) {
    c.skip();
    const operator = operatorAt(c, ['+', '-', 'AND', 'OR', 'XOR']);
    if (!operator) return value;
    const right = readProduct(c);
    if (operator === '+') value += right;
    else if (operator === '-') value -= right;
    else if (operator === 'AND') value = Number(value !== 0 && right !== 0);
    else if (operator === 'OR') value = Number(value !== 0 || right !== 0);
    else value = Number((value !== 0) !== (right !== 0));
  }
}

function readProduct(c: Cursor): number {
  let value = readPower(c);
  for (;;) {
    c.skip();
    const start = c.at;
    const operator = operatorAt(c, ['*', '/', 'MOD']);
    if (!operator) return value;
    const right = readPower(c);
    if (operator === '*') value *= right;
    else if (right === 0) c.fault('bad-expression', `${operator} by zero`, start);
    else if (operator === '/') value /= right;
    // The remainder has the sign of the divisor's size: never negative.
    else value = value - Math.abs(right) * Math.floor(value / Math.abs(right));
  }
}

function readPower(c: Cursor): number {
  c.skip();
  let value = readReal(c);
  for (;;) {
    c.skip();
    const start = c.at;
    if (!operatorAt(c, ['**'])) return value;
    c.skip();
    const right = readReal(c);
    if (value < 0 && !Number.isInteger(right)) {
      c.fault('bad-expression', `${value} to the power of ${right}`, start);
    }
    value **= right;
  }
}

/** Takes one of the operators if it stands at the cursor. */
function operatorAt(c: Cursor, operators: readonly string[]): string | undefined {
  const here = c.text.slice(c.at, Math.min(c.end, c.at + 3)).toUpperCase();
  const found = operators.find((o) => here.startsWith(o));
  if (found) {
    c.at += found.length;
    c.skip();
  }
  return found;
}

const FUNCTIONS: Readonly<Record<string, (v: number) => number>> = {
  ABS: Math.abs,
  ACOS: (v) => Math.acos(v) / DEG,
  ASIN: (v) => Math.asin(v) / DEG,
  COS: (v) => Math.cos(v * DEG),
  EXP: Math.exp,
  FIX: Math.floor,
  FUP: Math.ceil,
  LN: Math.log,
  // Half away from zero.
  ROUND: (v) => Math.sign(v) * Math.round(Math.abs(v)),
  SIN: (v) => Math.sin(v * DEG),
  SQRT: Math.sqrt,
  TAN: (v) => Math.tan(v * DEG),
};

function readFunction(c: Cursor): number {
  const start = c.at;
  while (c.at < c.end && isLetter(c.text.charCodeAt(c.at))) c.at++;
  const name = c.text.slice(start, c.at).toUpperCase();
  c.skip();
  const bracket = c.at < c.end && c.text[c.at] === '[';
  if (!bracket || !(name === 'ATAN' || Object.hasOwn(FUNCTIONS, name))) {
    c.fault('bad-number', `"${c.text.slice(start, c.at).trim()}" where a number must stand`, start);
  }
  const argument = readBracket(c);
  if (name === 'ATAN') return readArcTangent(c, argument);
  const value = FUNCTIONS[name]!(argument);
  if (!Number.isFinite(value)) c.fault('bad-expression', `${name} of ${argument}`, start);
  return value;
}

/** `ATAN[y]/[x]` */
function readArcTangent(c: Cursor, y: number): number {
  c.skip();
  if (c.text[c.at] !== '/' || c.at >= c.end) c.fault('bad-expression', '"/" must follow ATAN[..]');
  c.at++;
  c.skip();
  if (c.text[c.at] !== '[' || c.at >= c.end) c.fault('bad-expression', '"[" must follow ATAN[..]/');
  return Math.atan2(y, readBracket(c)) / DEG;
}

const isLetter = (code: number): boolean =>
  (code >= 65 && code <= 90) || (code >= 97 && code <= 122);
