/** Turns: with one who brought ten pieces before another brought one, the other is second. No outside source. */
import { expect, test } from 'vitest';
import { Turns } from '../../worker/service/turns.js';

test('one piece at a time, each sender in turn, failures end their own piece alone', async () => {
  const turns = new Turns(1);
  const done: string[] = [];
  let running = 0;
  const piece = (name: string) => async (): Promise<string> => {
    expect(++running).toBe(1);
    await new Promise((resolve) => setImmediate(resolve));
    running--;
    done.push(name);
    if (name === 'a2') throw new Error(name);
    return name;
  };
  const bring = (who: string, name: string): Promise<string> =>
    turns.run(who, piece(name)).catch((error: Error) => `failed ${error.message}`);
  const all = [1, 2, 3, 4].map((i) => bring('a', `a${i}`));
  expect([turns.waiting('a'), turns.allWaiting]).toEqual([3, 3]);
  all.push(bring('b', 'b1'), bring('c', 'c1'), bring('b', 'b2'));
  expect(await Promise.all(all)).toEqual(['a1', 'failed a2', 'a3', 'a4', 'b1', 'c1', 'b2']);
  expect(done).toEqual(['a1', 'a2', 'b1', 'c1', 'a3', 'b2', 'a4']);
  expect(await bring('a', 'late')).toBe('late');
});

test('so many at once, and no more', async () => {
  const turns = new Turns(2);
  let running = 0;
  let most = 0;
  const piece = async (): Promise<void> => {
    most = Math.max(most, ++running);
    await new Promise((resolve) => setImmediate(resolve));
    running--;
  };
  await Promise.all(['a', 'b', 'a', 'c', 'a'].map((who) => turns.run(who, piece)));
  expect([most, running]).toEqual([2, 0]);
});
