/**
 * Uploads under way, kept fair: limits on how many run at once in all, for each token and from each
 * address; and a least rate, so that a client that sends a byte now and then holds its place for a stated
 * time only. When a place is wanted and none is free, the slowest upload below the least rate gives way.
 */
import { Fault } from '../../lib/index.js';

export interface UploadLimits {
  /** At once, over all, and for each token and each address. */
  readonly most: number;
  readonly mostEach: number;
  /** Bytes a second, looked at over windows of so many seconds. */
  readonly leastRate: number;
  readonly windowSeconds: number;
}

export interface Sender {
  readonly token: string | undefined;
  readonly address: string;
}

/** An upload is judged slow for others' sake no sooner than this, ms. */
const PATIENCE_MS = 2000;

interface Coming extends Sender {
  readonly began: number;
  readonly window: NodeJS.Timeout;
  bytes: number;
  /** Bytes when the window began. */
  before: number;
  end(fault: Fault): void;
}

export class Uploads {
  readonly #limits: UploadLimits;
  readonly #coming = new Set<Coming>();

  constructor(limits: UploadLimits) {
    this.#limits = limits;
  }

  /**
   * The bytes of an upload as they come, as long as the upload may go on.
   * @param may whether the sender still may; asked once a window
   * @throws Fault `upload/too-many`, `upload/too-slow`, `upload/left`, `auth/token`, `service/busy`
   */
  async *admit(
    stream: AsyncIterable<Uint8Array>,
    sender: Sender,
    may: () => boolean,
  ): AsyncGenerator<Uint8Array> {
    this.#makeRoom(sender);
    let end!: (fault: Fault) => void;
    const ended = new Promise<never>((_resolve, reject) => (end = reject));
    // It may end while nobody waits for the next piece.
    ended.catch(() => {});
    const upload: Coming = {
      ...sender,
      began: performance.now(),
      bytes: 0,
      before: 0,
      end,
      window: setInterval(() => this.#look(upload, may), 1000 * this.#limits.windowSeconds),
    };
    this.#coming.add(upload);
    const pieces = stream[Symbol.asyncIterator]();
    try {
      for (;;) {
        const { done, value } = await Promise.race([pieces.next().catch(left), ended]);
        if (done) return;
        upload.bytes += value.byteLength;
        yield value;
      }
    } finally {
      clearInterval(upload.window);
      this.#coming.delete(upload);
    }
  }

  #look(upload: Coming, may: () => boolean): void {
    const { leastRate, windowSeconds } = this.#limits;
    const came = upload.bytes - upload.before;
    upload.before = upload.bytes;
    if (!may()) upload.end(new Fault('auth/token', 'the token of this upload was removed'));
    else if (came < leastRate * windowSeconds) upload.end(tooSlow(came / windowSeconds, leastRate));
  }

  /** @throws Fault if no place is free and none can be made free */
  #makeRoom({ token, address }: Sender): void {
    const { most, mostEach } = this.#limits;
    const all = [...this.#coming];
    const ofToken = token === undefined ? [] : all.filter((u) => u.token === token);
    const ofAddress = all.filter((u) => u.address === address);
    for (const own of [ofToken, ofAddress])
      if (own.length >= mostEach && !this.#giveWay(own))
        throw new Fault(
          'upload/too-many',
          `${own.length} uploads of yours are under way; at most ${mostEach} at once`,
        );
    if (this.#coming.size >= most && !this.#giveWay(all))
      throw new Fault('service/busy', `${most} uploads are under way; try again in a while`);
  }

  /** Ends the slowest of these uploads if it is below the least rate. */
  #giveWay(uploads: readonly Coming[]): boolean {
    const now = performance.now();
    const { leastRate } = this.#limits;
    const rateOf = (u: Coming): number => (1000 * u.bytes) / (now - u.began);
    const slow = uploads.filter((u) => now - u.began >= PATIENCE_MS && rateOf(u) < leastRate);
    const slowest = slow.sort((a, b) => rateOf(a) - rateOf(b))[0];
    if (!slowest) return false;
    this.#coming.delete(slowest);
    slowest.end(tooSlow(rateOf(slowest), leastRate));
    return true;
  }
}

/** An error of the connection, which nobody is there to hear of. */
const left = (error: unknown): never => {
  throw new Fault('upload/left', `the client left: ${(error as Error).message}`);
};

const tooSlow = (rate: number, least: number): Fault =>
  new Fault(
    'upload/too-slow',
    `${Math.round(rate)} bytes a second came; an upload must bring ${least} bytes a second at least`,
  );
