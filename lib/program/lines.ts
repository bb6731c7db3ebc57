/**
 * Lines of a program as they grow: kept in chunks of some thousand lines, so that a million blocks
 * neither hold a million strings nor make one string by copying it again and again.
 */
const CHUNK_LINES = 8192;

export class Lines {
  readonly #chunks: string[] = [];
  #open: string[] = [];
  #count = 0;

  /** Lines so far. */
  get count(): number {
    return this.#count;
  }

  add(line: string): void {
    this.#open.push(line);
    this.#count++;
    if (this.#open.length === CHUNK_LINES) this.#close();
  }

  addAll(lines: readonly string[]): void {
    for (const line of lines) this.add(line);
  }

  /** Chunks of whole lines, each line terminated. */
  take(): readonly string[] {
    this.#close();
    return this.#chunks;
  }

  #close(): void {
    if (this.#open.length) this.#chunks.push(`${this.#open.join('\n')}\n`);
    this.#open = [];
  }
}
