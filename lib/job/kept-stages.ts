/**
 * Cache of finished stages, looked up by their inputs. Whoever runs jobs decides where and how long
 * records are kept; lib only states what a record depends on. A record is plain data: numbers, texts,
 * lists, objects and typed arrays.
 */
export interface StageStore {
  /** The record of this stage made from equal `inputs` by the same code, or nothing. */
  get(stage: string, inputs: unknown): Promise<unknown>;
  /** Must not throw for want of room: what cannot be kept is made again. */
  put(stage: string, inputs: unknown, record: unknown): Promise<void>;
}

/** The kept record, or the one that `work` makes, which is then kept. */
export async function kept<T>(
  keep: StageStore | undefined,
  stage: string,
  inputs: unknown,
  work: () => Promise<T>,
): Promise<T> {
  const known = await keep?.get(stage, inputs);
  if (known !== undefined) return known as T;
  const made = await work();
  await keep?.put(stage, inputs, made);
  return made;
}
