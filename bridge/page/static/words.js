// How things are said.

export const kilos = (kg) => (kg == null ? "—" : kg.toFixed(1));

export const tagText = (id) => id.slice(0, -12) + " " + id.slice(-12).replace(/(...)(?=.)/g, "$1 ");

export const GRADES = { good: "good", fair: "fair", poor: "poor: weigh again", none: "no weight" };

export const VERDICTS = {
  go: "Let it go",
  hold: "Hold it",
  wait: "Wait",
  next: "Next animal",
  blank: "No reading",
  away: "No word from the box",
};

const STATES = { up: "working", lost: "lost", silent: "silent", missing: "not there" };
export const stateText = (state) => STATES[state] ?? state ?? "not known";

export const flagText = (flag) => (flag === "voided" ? "struck out" : flag.replaceAll("-", " "));

export const clock = (time) =>
  time ? new Date(time).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" }) : "";

export const day = (time) =>
  new Date(time).toLocaleDateString([], { day: "numeric", month: "short", year: "numeric" });

/** A date by which something is clear, as events have it. */
export const clearDay = (text) => (text === "unknown" ? UNKNOWN : day(`${text}T12:00`));

/** A count in words: 1 animal, 2 animals. */
export const many = (count, word) => `${count} ${word}${count === 1 ? "" : "s"}`;

const MEASURED = ["mL", "L", "mg", "g", "kg"];

/** An amount with its unit: 35 mL, 1 implant, 2 boluses. */
export function amount(number, unit) {
  const many = number === 1 || MEASURED.includes(unit) ? "" : unit.endsWith("s") ? "es" : "s";
  return `${+number.toFixed(2)} ${unit}${many}`;
}

export function dose(one) {
  if (one.skipped) return "not given";
  const given = one.amount ?? one.dose_ml;
  return given == null ? "no dose known" : amount(given, one.unit ?? "mL");
}

const ALOUD = { mL: "millilitres", L: "litres", mg: "milligrams", g: "grams", kg: "kilos" };

/** A dose as it is said aloud: units in full. */
export function spokenDose(one) {
  const text = dose(one);
  const unit = one.unit ?? "mL";
  return ALOUD[unit] && text.endsWith(` ${unit}`) ? text.slice(0, -unit.length) + ALOUD[unit] : text;
}

export const valueText = (value) =>
  value === true ? "yes" : value === false ? "no" : Array.isArray(value) ? value.map(valueText).join(", ") : String(value);

export const UNKNOWN = "not known";
const ORDER = ["meat", "export"];

/** Until when it is withheld and for what: the longest of each kind, known dates first; a product is named once, last. */
export function withheldText(withheld) {
  const longest = new Map();
  for (const one of withheld ?? []) if (!longest.has(one.kind)) longest.set(one.kind, one);
  const kinds = [...longest.values()].sort((a, b) => !a.until - !b.until || ORDER.indexOf(a.kind) - ORDER.indexOf(b.kind));
  return kinds.map((one, at) => ({
    until: one.until ? new Date(`${one.until}T12:00`).toLocaleDateString([], { day: "numeric", month: "short" }) : UNKNOWN,
    kind: one.kind,
    product: kinds[at + 1]?.product === one.product ? "" : one.product,
  }));
}

export function named(weighing) {
  const visual = weighing.animal?.visual;
  if (visual) return `ear ${visual}`;
  return weighing.tag ? tagText(weighing.tag.id) : "no tag";
}

export const missingText = (missing) =>
  missing?.length ? `${missing.join(" and ").replace(/^./, (c) => c.toUpperCase())} missing` : "";
