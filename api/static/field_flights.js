// Two flights of one model cannot overlap. The record asks a person about it later; here it is said while whoever flew
// still knows better.

/** When a flight was in the air, ms. */
function span({ occurred_at, airtime_min }) {
  const began = Date.parse(occurred_at);
  return { began, landed: began + airtime_min * 60000 };
}

/** The flight that a new one overlaps, of those kept on this device and the last on record. */
export function overlapped(form, made, items) {
  if (made.noun !== "flights") return null;
  const own = span(made.fact);
  const kept = items
    .filter((item) => item.noun === "flights" && item.fact.model === made.fact.model)
    .filter((item) => item.state === "waiting" || item.state === "done")
    .map((item) => span(item.fact));
  const last = form.querySelector(".last-landing")?.dataset;
  if (last) kept.push({ began: Number(last.began), landed: Number(last.landed) });
  return kept.find((other) => own.began < other.landed && other.began < own.landed) ?? null;
}

/** What is said of it, by the club's clock. */
export function toldOf(other, zone) {
  const clock = new Intl.DateTimeFormat("en-GB", { timeZone: zone, hour: "2-digit", minute: "2-digit" });
  return (
    `This flight would overlap the one from ${clock.format(other.began)} to ${clock.format(other.landed)}. ` +
    "Fill in when it landed, or how long it flew. Kept as it is, a person has to settle it later. "
  );
}
