/**
 * Attribute values of a 3MF model by the simple types of the core specification 1.4, appendix B.1.
 * A value that breaks its type is a Fault, which the reader of the model makes, since it knows the line.
 */
import type { Fault } from '../base/fault.js';
import { printable } from '../base/phrases.js';
import type { XmlAttributes } from './xml.js';

export class AttributeValues {
  readonly #fault: (code: string, what: string) => Fault;

  constructor(fault: (code: string, what: string) => Fault) {
    this.#fault = fault;
  }

  /** ST_ResourceID: 1 .. 2^31 - 1. */
  id(attributes: XmlAttributes, name: string): number {
    const id = this.#whole(attributes, name);
    if (id === 0) throw this.#fault('3mf/value', `${name}="0"; the least is 1`);
    return id;
  }

  /** ST_ResourceIndex below `count`. */
  index(attributes: XmlAttributes, name: string, count: number): number {
    const index = this.#whole(attributes, name);
    if (index < count) return index;
    const what = `${name}="${index}"; the mesh has ${count} vertices, counted from 0`;
    throw this.#fault('3mf/value', what);
  }

  /** ST_Number of an attribute. */
  number(attributes: XmlAttributes, name: string): number {
    return this.decimal(this.#required(attributes, name), name);
  }

  /** ST_Number: digits must follow a point, so "1." and "NaN" are none. */
  decimal(text: string, name: string): number {
    const value = /^\s*[+-]?(\d+(\.\d+)?|\.\d+)([eE][+-]?\d+)?\s*$/.test(text) ? Number(text) : NaN;
    if (Number.isFinite(value)) return value;
    throw this.#fault('3mf/value', `${name}: "${printable(text)}" is no number`);
  }

  #whole(attributes: XmlAttributes, name: string): number {
    const text = this.#required(attributes, name);
    const value = /^\s*\+?\d+\s*$/.test(text) ? Number(text) : NaN;
    if (value < 2 ** 31) return value;
    const what = `${name}="${printable(text)}" is no whole number below 2147483648`;
    throw this.#fault('3mf/value', what);
  }

  #required(attributes: XmlAttributes, name: string): string {
    const value = attributes[name];
    if (value === undefined) throw this.#fault('3mf/schema', `it lacks the attribute ${name}`);
    return value;
  }
}
