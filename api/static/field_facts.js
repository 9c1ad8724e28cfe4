// Forms of the field as facts, as `api/src/web/field/sent.rs` makes them; ids and moments made on the device.

/** What a form lacks, said to who fills it in. */
export class Fault extends Error {}

/** An id of version 7: the moment it was made, then chance. */
export function newId(atMs) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let at = 0; at < 6; at += 1) bytes[at] = Math.floor(atMs / 2 ** (8 * (5 - at))) % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

/** How far the clocks of a zone are ahead of UTC at a moment, ms. */
function aheadMs(atMs, zone) {
  const numeric = { year: "numeric", month: "numeric", day: "numeric", hour: "numeric", minute: "numeric", second: "numeric" };
  const parts = new Intl.DateTimeFormat("en-GB", { timeZone: zone, hourCycle: "h23", ...numeric }).formatToParts(atMs);
  const part = (name) => Number(parts.find((one) => one.type === name).value);
  const wall = Date.UTC(part("year"), part("month") - 1, part("day"), part("hour"), part("minute"), part("second"));
  return wall - Math.floor(atMs / 1000) * 1000;
}

/** The moment of a day and minute by the club's clock; when an hour comes twice, the earlier one. */
export function momentOf(text, zone) {
  const wall = Date.parse(`${text}Z`);
  if (Number.isNaN(wall)) throw new Fault(`“${text}” is not a day and a time.`);
  const day = 86400000;
  const found = [wall - day, wall + day].map((near) => wall - aheadMs(near, zone));
  const real = found.filter((at) => at + aheadMs(at, zone) === wall);
  if (real.length === 0) throw new Fault(`“${text}” never came: clocks went forward then.`);
  return Math.min(...real);
}

function number(text, what) {
  const value = Number(text.replace(",", "."));
  if (!Number.isFinite(value)) throw new Fault(`${what}: “${text}” is not a number.`);
  return value;
}

/** What a form holds: texts without blanks round them, nothing where a field is empty. */
function reader(form) {
  const data = new FormData(form);
  const get = (name) => String(data.get(name) ?? "").trim() || null;
  return {
    get,
    pairs: () => [...data.entries()],
    number: (name, what) => (get(name) === null ? null : number(get(name), what)),
    need: (name, fault) => {
      const value = get(name);
      if (value === null) throw new Fault(fault);
      return value;
    },
  };
}

const told = (fact) => Object.fromEntries(Object.entries(fact).filter(([, value]) => value !== null));

function flight(form, given) {
  const airtime = form.number("airtime_other", "Time in the air") ?? form.number("airtime_min", "Time in the air");
  if (airtime === null) throw new Fault("Say how long it flew.");
  if (airtime < 0 || airtime > 1440) throw new Fault("A flight lasts 0 to 1440 minutes.");
  const landed = given.moment(form.get("landed_at"));
  const landing = form.need("landing", "Say how it landed.");
  return {
    text: `flight, landing ${landing}, ${airtime} min`,
    occurredMs: landed - Math.round(airtime * 60) * 1000,
    rest: {
      model: form.get("model"),
      pilot: form.get("pilot") ?? given.member,
      airtime_min: airtime,
      landing,
      is_landing_flap_used: form.get("flap") !== null,
      is_post_flight_logged: form.get("looked") !== null,
      launches: form.number("launches", "Launches"),
      motor_s: form.number("motor_s", "Motor"),
      note: form.get("note"),
    },
  };
}

function check(form, given) {
  const items = form
    .pairs()
    .filter(([name]) => name.startsWith("item."))
    .map(([name, result]) => {
      const item = name.slice("item.".length);
      return told({ item, result, note: form.get(`note.${item}`) });
    });
  const hasFailed = items.some((one) => one.result === "fail");
  const isWhole = items.every((one) => one.result !== "not_looked_at");
  const result = hasFailed ? (form.get("verdict") ?? "fail") : isWhole ? "pass" : "restrict";
  const group = form.get("group");
  return {
    text: `check ${group}, ${result}`,
    occurredMs: given.moment(form.get("at")),
    rest: { model: form.get("model"), group, result, is_summary: false, items, note: form.get("note") },
  };
}

function subject(form) {
  const [kind, id] = form.need("subject", "Say which part, or the model.").split(":");
  return { [kind]: id };
}

function reading(form, given) {
  const [quantity, unit] = form.need("quantity", "Say what was measured.").split(" ");
  const said = form.need("values", "Fill in the reading.");
  const values = said.split(/[ ;]+/).filter(Boolean).map((word) => number(word, "Reading"));
  return {
    text: `${quantity.replaceAll("_", " ")} ${said} ${unit}`,
    occurredMs: given.moment(form.get("at")),
    rest: {
      subject: subject(form),
      quantity,
      unit,
      values,
      temperature_c: form.number("temperature_c", "Temperature"),
      note: form.get("note"),
    },
  };
}

function defect(form, given) {
  const words = [form.get("seen"), form.get("text")].filter((one) => one !== null);
  if (words.length === 0) throw new Fault("Choose what is wrong, or say it in words.");
  const severity = form.need("severity", "Say how bad it is.");
  const text = words.join(": ");
  return {
    text: `defect (${severity}): ${text}`,
    occurredMs: given.moment(form.get("at")),
    rest: { model: form.get("model"), subject: subject(form), severity, text, place: form.get("place") },
  };
}

const KINDS = { flights: flight, inspections: check, measurements: reading, defects: defect };

/**
 * The fact that a form says, for the queue. `given`: the member, the club's zone, the service's clock now in ms.
 * Each call makes a new id: a kept page would send the one it was made with again and again.
 */
export function factOf(form, { member, zone, nowMs }) {
  const noun = form.dataset.noun;
  const fields = reader(form);
  const moment = (text) => (text === null ? nowMs : momentOf(text, zone));
  const said = KINDS[noun](fields, { member, moment });
  const fact = { id: newId(nowMs), occurred_at: new Date(said.occurredMs).toISOString(), ...told(said.rest) };
  return { noun, fact, text: `${fields.get("of")}: ${said.text}` };
}
