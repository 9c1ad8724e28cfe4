// What was logged on this device and what became of it, in the browser's own database. Nothing leaves here unsent
// but by the hand of who filled it in.

const NAME = "preen-field";
const STORE = "items";
const KNOWN = "known";
/** What was recorded is shown for so long, ms. */
const SHOWN_MS = 12 * 3600 * 1000;

const done = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

function open() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore(STORE, { keyPath: "seq", autoIncrement: true });
      request.result.createObjectStore(KNOWN);
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("blocked"));
  });
}

/** The queue: items in the order in which they were made. */
export class Queue {
  #base = null;
  #listeners = [];
  #channel = "BroadcastChannel" in globalThis ? new BroadcastChannel(NAME) : null;

  constructor() {
    if (this.#channel) this.#channel.onmessage = () => this.#listeners.forEach((told) => told());
  }

  /** Calls when something in it changes, here or in another tab. */
  onChange(told) {
    this.#listeners.push(told);
  }

  #tell() {
    this.#listeners.forEach((told) => told());
    this.#channel?.postMessage("changed");
  }

  async #write(work, name = STORE) {
    this.#base ??= await open();
    const base = this.#base;
    await new Promise((resolve, reject) => {
      // On disk before it is said to be kept.
      const transaction = base.transaction(name, "readwrite", { durability: "strict" });
      transaction.oncomplete = resolve;
      transaction.onabort = () => reject(transaction.error ?? new Error("aborted"));
      try {
        work(transaction.objectStore(name));
      } catch (error) {
        transaction.abort();
        reject(error);
      }
    });
    if (name === STORE) this.#tell();
  }

  /** Keeps items to be sent, all or none; they are kept when this is fulfilled, and not before. */
  add(...items) {
    return this.#write((store) => items.forEach((item) => store.add({ ...item, state: "waiting" })));
  }

  /** Puts items back as they stand now. */
  put(items) {
    return this.#write((store) => items.forEach((item) => store.put(item)));
  }

  /** Takes an item out. */
  remove(seq) {
    return this.#write((store) => store.delete(seq));
  }

  /** All items, the oldest first. */
  async all() {
    this.#base ??= await open();
    return done(this.#base.transaction(STORE).objectStore(STORE).getAll());
  }

  /** Items that wait, the oldest first. */
  async waiting() {
    return (await this.all()).filter((item) => item.state === "waiting");
  }

  /** Keeps a value by its name. */
  know(name, value) {
    return this.#write((store) => store.put(value, name), KNOWN);
  }

  /** A value that was kept. */
  async known(name) {
    this.#base ??= await open();
    return done(this.#base.transaction(KNOWN).objectStore(KNOWN).get(name));
  }

  /** Forgets what was recorded long ago. */
  async tidy() {
    const old = (await this.all()).filter((item) => item.state === "done" && Date.now() - item.endedMs > SHOWN_MS);
    if (old.length > 0) await this.#write((store) => old.forEach((item) => store.delete(item.seq)));
  }
}

/**
 * The service's clock as far as it is known: how far it is ahead of the one in the pocket is kept, since that one may
 * be wrong by hours and the field has no signal to ask again.
 */
export class Clock {
  #queue;
  #aheadMs = 0;
  #isLearnt = false;

  constructor(queue) {
    this.#queue = queue;
  }

  /** Takes what an earlier page learnt, unless this one knows better. */
  async recall() {
    const kept = await this.#queue.known("ahead_ms");
    if (Number.isFinite(kept) && !this.#isLearnt) this.#aheadMs = kept;
  }

  /** The service's clock reads this now. */
  async learn(serviceMs) {
    if (!Number.isFinite(serviceMs)) return;
    this.#aheadMs = serviceMs - Date.now();
    this.#isLearnt = true;
    await this.#queue.know("ahead_ms", this.#aheadMs);
  }

  /** The service's clock now, ms since 1970. */
  now() {
    return Date.now() + this.#aheadMs;
  }
}
