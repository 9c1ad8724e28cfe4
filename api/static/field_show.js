// Shows what is kept on this device: how much waits and for how long, what was recorded, what a person has to settle.
// Whatever came from elsewhere is set as text, never as markup.

const HELD = {
  no_signal: "No signal: it is sent when there is some.",
  signed_out: "The session ended.",
  other_member: "Sent when the member who filled it in signs in.",
  password: "First choose a password of your own.",
  changed: "Somebody else signed in meanwhile.",
  failed: "It could not be sent yet.",
};

const entries = (count) => (count === 1 ? "1 entry" : `${count} entries`);

/** How long ago, in one unit. */
export function age(ms) {
  const minutes = Math.floor(Math.max(ms, 0) / 60000);
  if (minutes < 1) return "less than a minute";
  if (minutes < 120) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  return hours < 48 ? `${hours} h` : `${Math.floor(hours / 24)} days`;
}

function element(name, text, kind) {
  const made = document.createElement(name);
  if (text) made.textContent = text;
  if (kind) made.className = kind;
  return made;
}

/** What is kept, as a box of the page. */
export class Box {
  #box = document.getElementById("queue");
  #queue;
  #sender;
  #who;

  constructor(queue, sender, who) {
    this.#queue = queue;
    this.#sender = sender;
    this.#who = who;
    this.#box.querySelector(".now").addEventListener("click", () => sender.send());
  }

  /** Shows it as it is now. */
  async show() {
    const all = await this.#queue.all();
    const isOwn = (item) => item.club === this.#who.club && item.member === this.#who.member;
    const own = all.filter(isOwn);
    const waiting = own.filter((item) => item.state === "waiting");
    const others = all.filter((item) => item.state === "waiting" && !isOwn(item));
    this.#box.hidden = own.length === 0 && others.length === 0;
    this.#box.dataset.waiting = String(waiting.length);
    this.#box.querySelector(".counted").textContent = this.#counted(waiting, others, own);
    const { word } = this.#sender.held;
    this.#box.dataset.held = word;
    this.#box.querySelector(".now").hidden = waiting.length === 0;
    const link = this.#box.querySelector(".in");
    link.hidden = waiting.length === 0 || !["signed_out", "password"].includes(word);
    link.textContent = word === "password" ? "Choose a password" : `Sign in to send ${waiting.length}`;
    link.href = word === "password" ? "/password" : `/sign-in?to=${encodeURIComponent(location.pathname)}`;
    const list = this.#box.querySelector(".kept");
    const newestFirst = [...own].sort((a, b) => b.seq - a.seq);
    const order = ["refused", "question", "waiting", "done"];
    newestFirst.sort((a, b) => order.indexOf(a.state) - order.indexOf(b.state));
    list.replaceChildren(...newestFirst.map((item) => this.#line(item)));
  }

  #counted(waiting, others, own) {
    const said = [];
    if (waiting.length > 0) {
      const oldest = Math.min(...waiting.map((item) => item.madeMs));
      said.push(`${entries(waiting.length)} not sent yet, the oldest made ${age(Date.now() - oldest)} ago.`);
      const { word, text } = this.#sender.held;
      if (word && word !== "other_member") said.push(`${HELD[word]} ${text}`.trim());
      if (word === "other_member") said.push(`Another member is signed in: sent when ${this.#who.tag} is again.`);
    } else if (own.some((item) => item.state === "done")) {
      said.push("Everything that was logged here is on record or was settled.");
    }
    if (others.length > 0) {
      const tags = [...new Set(others.map((item) => item.tag))].join(", ");
      said.push(`${entries(others.length)} of ${tags} wait here until they sign in.`);
    }
    return said.join(" ");
  }

  #line(item) {
    const line = element("li", "", item.state);
    line.dataset.state = item.state;
    line.append(element("b", { waiting: "waits", done: "recorded", question: "asked", refused: "refused" }[item.state]));
    line.append(" ", element("span", item.text));
    if (item.reason) line.append(" ", element("span", item.reason, "reason"));
    if (item.state === "question") {
      line.append(" ", element("span", "It is kept as a question for a person to settle:", "small"), " ");
      const link = element("a", "the question");
      link.href = `/questions#${encodeURIComponent(item.question)}`;
      line.append(link);
    }
    if (item.state === "refused" || item.state === "question") {
      const button = element("button", "Dismiss", "quiet");
      button.type = "button";
      button.addEventListener("click", () => this.#queue.remove(item.seq));
      line.append(" ", button);
    }
    return line;
  }
}

/** Says something beside a form, at once and for screen readers too; what is done is folded away under it. */
export function say(form, text, kind) {
  const folded = form.closest("details.deed-box");
  for (const old of [folded?.previousElementSibling, form.previousElementSibling]) {
    if (old?.classList.contains("said")) old.remove();
  }
  const box = element("p", text, `said ${kind}`);
  box.setAttribute("role", kind === "fault" ? "alert" : "status");
  if (folded && kind !== "fault") {
    folded.open = false;
    folded.before(box);
  } else {
    form.before(box);
  }
  box.scrollIntoView({ block: "nearest" });
  return box;
}
