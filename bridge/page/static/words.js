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

export const dose = (one) =>
  one.skipped ? "not given" : one.dose_ml == null ? "no dose known" : `${+one.dose_ml.toFixed(2)} mL`;

export function named(weighing) {
  const visual = weighing.animal?.visual;
  if (visual) return `ear ${visual}`;
  return weighing.tag ? tagText(weighing.tag.id) : "no tag";
}

export const missingText = (missing) =>
  missing?.length ? `${missing.join(" and ").replace(/^./, (c) => c.toUpperCase())} missing` : "";
