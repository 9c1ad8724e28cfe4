// The field pages with a script: forms are kept on the device and sent when there is signal, pages open without it,
// and only what can be measured on the chosen part is offered. Without this file the forms are posted as they are.

import { Fault, factOf } from "./field_facts.js";
import { offerCamera } from "./field_camera.js";
import { overlapped, toldOf } from "./field_flights.js";
import { photosOf } from "./field_photo.js";
import { Clock, Queue } from "./field_queue.js";
import { Sender } from "./field_send.js";
import { Box, age, say } from "./field_show.js";

const meta = (name) => document.querySelector(`meta[name="${name}"]`)?.content ?? "";

const who = {
  club: meta("preen-club"),
  member: meta("preen-member"),
  tag: document.querySelector(".who .member")?.textContent ?? "",
};

const queue = new Queue();
const clock = new Clock(queue);
const sender = new Sender(queue, clock);
const box = new Box(queue, sender, who);
let learnt = Promise.resolve();

/** Takes what stands against flying from the service anew, once something is on record. */
async function renewStanding() {
  const shown = document.getElementById("standing");
  if (!shown) return;
  const response = await fetch(location.pathname, { cache: "no-store" });
  if (!response.ok || response.redirected) return;
  const fresh = new DOMParser().parseFromString(await response.text(), "text/html");
  const standing = fresh.getElementById("standing");
  const isOfOther = fresh.querySelector('meta[name="preen-member"]')?.content !== who.member;
  const isKeptCopy = fresh.querySelector('meta[name="preen-kept"]') !== null;
  if (standing && !isOfOther && !isKeptCopy) {
    shown.replaceWith(document.importNode(standing, true));
    document.getElementById("kept-copy").hidden = true;
  }
}

/** Says that a flight overlaps another, and offers to keep it all the same. */
function sayOverlap(form, other) {
  const said = say(form, toldOf(other, meta("preen-zone")), "fault");
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = "Keep it all the same";
  button.addEventListener("click", () => take(form, true));
  said.append(button);
  form.querySelector("details.more").open = true;
}

async function take(form, isMeant = false) {
  // A second tap while the first is being kept is none.
  if (form.dataset.isBusy) return;
  form.dataset.isBusy = "yes";
  try {
    await learnt.catch(() => {});
    const made = factOf(form, { member: who.member, zone: meta("preen-zone"), nowMs: clock.now() });
    const other = isMeant ? null : overlapped(form, made, await queue.all());
    if (other) {
      sayOverlap(form, other);
      return;
    }
    const photos = await photosOf(form, made, clock.now());
    await queue.add(...[made, ...photos].map((item) => ({ ...who, ...item, madeMs: Date.now() })));
    form.reset();
    form.querySelectorAll("select[name=subject]").forEach(narrow);
    const hard = made.fact.landing === "hard" ? document.querySelector(".after-hard")?.textContent : "";
    const along = photos.length > 0 ? `, with ${photos.length} ${photos.length === 1 ? "photo" : "photos"}` : "";
    say(form, `Kept on this device: ${made.text}${along}. ${hard ?? ""}`.trim(), "done");
  } catch (error) {
    notKept(form, error);
    return;
  } finally {
    delete form.dataset.isBusy;
  }
  await sender.send({ isOfItself: true });
}

/** Says that nothing was kept, and leaves the form as it was filled in. */
function notKept(form, error) {
  if (error instanceof Fault) {
    say(form, error.message, "fault");
    return;
  }
  const why = error?.name === "QuotaExceededError" ? "There is no room left on this device" : "This browser keeps nothing for later";
  const said = say(form, `${why}: nothing was kept, and the form stays as you filled it in. `, "fault");
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = "Send it at once";
  button.addEventListener("click", () => form.submit());
  said.append(button);
}

/** Offers what can be measured on the chosen part. Browsers hide no choices of a list alike: they are taken out. */
function narrow(select) {
  const quantities = select.form.elements.quantity;
  if (!quantities) return;
  quantities.preenAll ??= [...quantities.children];
  const kind = select.selectedOptions[0]?.dataset.kind ?? "";
  const fits = (group) => [...group.children].some((one) => one.dataset.kind === "" || one.dataset.kind === kind);
  const chosen = quantities.value;
  quantities.replaceChildren(...quantities.preenAll.filter((one) => one.tagName !== "OPTGROUP" || fits(one)));
  quantities.value = chosen;
  if (quantities.selectedIndex < 0) quantities.selectedIndex = 0;
}

function sayKeptCopy() {
  const shown = document.getElementById("kept-copy");
  const keptMs = Number(meta("preen-kept"));
  if (!shown || !keptMs) return;
  shown.hidden = false;
  shown.textContent =
    `Without signal: this page is as it was ${age(clock.now() - keptMs)} ago. What was recorded elsewhere since ` +
    "then is not on it, nor what waits on this device.";
}

async function keepPages() {
  if (!navigator.serviceWorker) return;
  navigator.serviceWorker.addEventListener("message", (event) => {
    document.documentElement.dataset.kept = String(event.data?.kept ?? "");
  });
  await navigator.serviceWorker.register("/sw.js");
  const ready = await navigator.serviceWorker.ready;
  ready.active.postMessage({ keep: [location.pathname] });
}

function begin() {
  // A kept page does not know the time; one that was just made does.
  const now = Number(meta("preen-now"));
  learnt = now ? clock.learn(now) : clock.recall();
  learnt.catch(() => {});
  learnt.catch(() => {}).then(sayKeptCopy);
  document.querySelectorAll("form.deed").forEach((form) => {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      take(form);
    });
  });
  document.querySelectorAll("form.deed select[name=subject]").forEach((select) => {
    narrow(select);
    select.addEventListener("change", () => narrow(select));
  });
  const show = () => box.show().catch(() => {});
  queue.onChange(show);
  sender.onRound = (recorded) => {
    show();
    if (recorded.length > 0) renewStanding().catch(() => {});
  };
  const send = () => sender.send({ isOfItself: true }).catch(() => {});
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
  // The age of what waits is told anew.
  setInterval(show, 30000);
  queue.tidy().catch(() => {});
  show();
  send();
  offerCamera();
  keepPages().catch(() => {});
  navigator.storage?.persist?.().catch(() => {});
  document.documentElement.dataset.field = "ready";
}

begin();
