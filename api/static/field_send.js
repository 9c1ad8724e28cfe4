// Sends what waits, in order, in the name of who filled it in and only while that member is signed in.
// Each item keeps its id however often it is sent, so that it counts once.

import { hasPicture, named } from "./field_photo.js";

const LOCK = "preen-field-send";
/** Items sent at once. */
const BATCH = 50;
/** How long an answer may take, ms. */
const PATIENCE_MS = 20000;
/** How long a picture may take to be sent over a poor line, ms. */
const PICTURE_PATIENCE_MS = 180000;
const FIRST_PAUSE_MS = 5000;
const LONGEST_PAUSE_MS = 300000;

/** What stands in the way, with a word for what is shown. */
class Held extends Error {
  constructor(word, text = "", waitMs = 0) {
    super(text);
    this.word = word;
    this.waitMs = waitMs;
  }
}

/** How long the service wants to be left alone, ms. */
function waitOf(response) {
  const said = response.headers.get("retry-after") ?? "";
  const seconds = Number(said || 0);
  const ms = Number.isFinite(seconds) ? seconds * 1000 : Date.parse(said) - Date.now();
  return Math.min(Math.max(ms || 0, 0), LONGEST_PAUSE_MS);
}

const isOf = (item, who) => item.club === who.club && item.member === who.member;

async function ask(path, options) {
  try {
    return await fetch(path, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS), ...options });
  } catch {
    throw new Held("no_signal");
  }
}

/** What the service said about what it did not take. */
async function problem(response) {
  try {
    const body = await response.json();
    return { code: body.code ?? "", text: toldBy(body) };
  } catch {
    return { code: "", text: `The service answered ${response.status}.` };
  }
}

/** The same of what was not taken for its own sake; whatever is about who is signed in stands in the way of all. */
async function refusal(response) {
  const said = await problem(response);
  if (response.status === 401 || said.code === "csrf_token_wrong") throw new Held("changed");
  if (said.code === "password_must_change") throw new Held("password");
  return said;
}

/** A problem in its own words. */
function toldBy(body) {
  const errors = (body.errors ?? []).map((one) => one.text);
  return errors.length > 0 ? errors.join(" ") : (body.detail ?? body.title ?? "");
}

/** What becomes of an item by what the service said about it. */
function ended(item, result) {
  const reason = result.problem ? toldBy(result.problem) : "";
  const endedMs = Date.now();
  switch (result.status) {
    case "recorded":
    case "known":
      // Its picture is with the service now: there is no need of it here.
      return { ...item, picture: undefined, state: "done", endedMs };
    case "question":
      return { ...item, state: "question", question: result.question, reason, endedMs };
    case "refused":
      return { ...item, state: "refused", reason, endedMs };
    default:
      return item;
  }
}

/** Sends the queue; one tab at a time. */
export class Sender {
  #queue;
  #clock;
  #pauseMs = FIRST_PAUSE_MS;
  #timer = 0;
  #notBefore = 0;
  #isBusy = false;
  #isAskedAgain = false;
  #recorded = [];
  /** What stands in the way: a word, and a text where there is one. */
  held = { word: "", text: "" };
  /** Told after each round what is on record now. */
  onRound = () => {};

  constructor(queue, clock) {
    this.#queue = queue;
    this.#clock = clock;
  }

  /**
   * Sends what waits, now: of itself not before the service wants to be asked again. Whatever goes wrong, it is tried
   * again later.
   */
  async send({ isOfItself = false } = {}) {
    if (isOfItself && performance.now() < this.#notBefore) return;
    if (this.#isBusy) {
      this.#isAskedAgain = true;
      return;
    }
    this.#isBusy = true;
    clearTimeout(this.#timer);
    this.#recorded = [];
    try {
      await this.#alone();
    } finally {
      this.#isBusy = false;
    }
    this.onRound(this.#recorded);
    if (this.#isAskedAgain) {
      this.#isAskedAgain = false;
      await this.send({ isOfItself: true });
    }
  }

  async #alone() {
    if (!navigator.locks) return this.#round();
    // Waits for another tab that sends: what that one leaves is looked at anew.
    return navigator.locks.request(LOCK, () => this.#round());
  }

  async #round() {
    try {
      let isTriedAnew = false;
      for (;;) {
        if ((await this.#queue.waiting()).length === 0) break;
        const session = await this.#session();
        const own = (await this.#queue.waiting()).filter((item) => isOf(item, session));
        if (own.length === 0) throw new Held("other_member");
        try {
          await this.#batch(own.slice(0, BATCH), session);
        } catch (error) {
          // The session was another's by then: ask once more who is signed in.
          if (!(error instanceof Held) || error.word !== "changed" || isTriedAnew) throw error;
          isTriedAnew = true;
        }
      }
      this.#pauseMs = FIRST_PAUSE_MS;
      this.held = { word: "", text: "" };
    } catch (error) {
      const isHeld = error instanceof Held;
      this.held = { word: isHeld ? error.word : "failed", text: error.message };
      this.#later(isHeld ? error.waitMs : 0);
    }
  }

  #later(waitMs) {
    this.#notBefore = performance.now() + waitMs;
    this.#timer = setTimeout(() => this.send(), Math.max(this.#pauseMs, waitMs));
    this.#pauseMs = Math.min(this.#pauseMs * 2, LONGEST_PAUSE_MS);
  }

  async #session() {
    const response = await ask("/api/v1/session");
    if (response.status === 401) throw new Held("signed_out");
    if (!response.ok) throw new Held("failed", (await problem(response)).text, waitOf(response));
    const session = await response.json();
    if (session.must_change_password) throw new Held("password");
    return session;
  }

  /** Sends the picture of an item; gives the item as it then stands, ended if no such picture can be kept. */
  async #picture(item, session) {
    const response = await ask("/api/v1/photos/files", {
      method: "POST",
      headers: { "content-type": item.picture.type || "image/jpeg", "x-csrf-token": session.csrf_token ?? "" },
      body: item.picture,
      signal: AbortSignal.timeout(PICTURE_PATIENCE_MS),
    });
    if (response.ok) return named(item, await response.json());
    const said = await refusal(response);
    if (response.status >= 500 || response.status === 429) throw new Held("failed", said.text, waitOf(response));
    return ended(item, { status: "refused", problem: { detail: said.text } });
  }

  /** Sends some items and notes what became of each. */
  async #batch(all, session) {
    const items = [];
    for (const item of all) {
      const ready = hasPicture(item) ? await this.#picture(item, session) : item;
      if (ready !== item) await this.#queue.put([ready]);
      if (ready.state === "waiting") items.push(ready);
    }
    if (items.length === 0) return;
    const outbox = {
      sent_at: new Date().toISOString(),
      facts: items.map(({ noun, fact }) => ({ noun, fact })),
    };
    const response = await ask("/api/v1/facts", {
      method: "POST",
      headers: { "content-type": "application/json", "x-csrf-token": session.csrf_token ?? "" },
      body: JSON.stringify(outbox),
    });
    if (response.ok) {
      await this.#note(items, await response.json());
      return;
    }
    const said = await refusal(response);
    if ([400, 413, 415, 422].includes(response.status)) {
      if (items.length > 1) {
        for (const item of items) await this.#batch([item], session);
        return;
      }
      await this.#queue.put([ended(items[0], { status: "refused", problem: { detail: said.text } })]);
      return;
    }
    throw new Held("failed", said.text, waitOf(response));
  }

  async #note(items, received) {
    await this.#clock.learn(Date.parse(received.received_at)).catch(() => {});
    const after = items.map((item, at) => ended(item, received.results[at] ?? { status: "try_again" }));
    await this.#queue.put(after);
    this.#recorded.push(...after.filter((item) => item.state === "done"));
    if (after.some((item) => item.state === "waiting")) {
      const again = received.results.find((result) => result.status === "try_again");
      throw new Held("failed", again?.problem ? toldBy(again.problem) : "");
    }
  }
}
