// The tables of a sheet, one at a time in a dialog: a treatment, a finding, a pen, a row of additions for the dam's age.

import { el } from "../../../dom.js";
import { talk } from "../../../talk.js";
import { amount as spelled } from "../../../words.js";
import { HOW, UNITS, gathered, said, spread } from "./dosing.js";
import { field, lines, numeric, typed } from "./fields.js";

const pairs = (words) => Object.entries(words);
const same = (names) => names.map((name) => [name, name]);

const TREATMENT = [
  { key: "name", name: "Name" },
  { key: "how", name: "How much", kind: "touch", of: pairs(HOW) },
  { key: "amount", name: "Amount", kind: "number" },
  { key: "unit", name: "Unit", kind: "pick", of: same(UNITS) },
  { key: "step_kg", name: "kg in one step", kind: "number", hint: "as in 5 mL for each 50 kg" },
  { key: "least", name: "At least", kind: "number" },
  { key: "most", name: "At most", kind: "number" },
  { key: "mark", name: "From one mark of the applicator to the next", kind: "number" },
  { key: "round", name: "To which mark", kind: "touch", of: [["up", "up"], ["nearest", "nearest"], ["down", "down"]] },
  { key: "dose_to_heaviest", name: "One dose for all, by the heaviest", kind: "tick" },
  { key: "batch", name: "Batch" },
  { key: "expires", name: "Last day it may be used", kind: "date" },
  { key: "route", name: "How it is given", list: ["by mouth", "under the skin", "into the muscle", "pour-on", "into the ear"] },
  { key: "body_site", name: "Where on the animal", list: ["left neck", "right neck", "left ear", "right ear", "back line"] },
  { key: "given_by", name: "Given by" },
  { key: "reason", name: "Reason" },
  { key: "withhold_days", name: "Withheld for meat, days", kind: "number", hint: "from the label; 0 for none; empty: not known" },
  { key: "export_days", name: "Withheld for export, days", kind: "number" },
];

function treatmentText(one) {
  const { how, amount, unit, step_kg: step } = gathered(one);
  if (typeof amount !== "number") return "how much?";
  const much = spelled(amount, unit);
  return how === "each" ? much : how === "kg" ? `${much} for each kg` : `${much} for each ${step ?? "…"} kg`;
}

const FINDING = [
  { key: "name", name: "Name" },
  { key: "kind", name: "What it may be", kind: "touch", of: [["choices", "one of these"], ["number", "a number"], ["yes_no", "yes or no"], ["words", "words"]] },
  { key: "choices", name: "Choices", kind: "lines", hint: "one a line" },
  { key: "several", name: "As many of them as one likes", kind: "tick" },
  { key: "from", name: "From", kind: "number" },
  { key: "to", name: "To", kind: "number" },
  { key: "step", name: "In steps of", kind: "number" },
  { key: "unit", name: "Unit" },
  { key: "usual", name: "Usual", hint: "stands unless a person says otherwise" },
  { key: "needed", name: "Needed: hold the animal until it is given", kind: "tick" },
  { key: "keep", name: "Stays with the animal (colour, sex)", kind: "tick" },
];

const KINDS = ["choices", "number", "yes_no", "words"];
const kindOf = (one) => KINDS.find((kind) => one[kind] !== undefined && one[kind] !== false) ?? "choices";
const word = (value) => (value === true ? "yes" : value === false ? "no" : String(value));

function findingOut(one) {
  const usual = one.usual === undefined ? undefined : [one.usual].flat().map(word).join(", ");
  return { ...one, ...one.number, kind: kindOf(one), usual };
}

function findingIn({ kind, choices, from, to, step, unit, usual, several, ...rest }, was) {
  const had = new Map([...(was.choices ?? []), ...[was.usual ?? []].flat()].map((value) => [word(value), value]));
  const value = (text) => (had.has(text) ? had.get(text) : kind === "choices" || kind === "number" ? numeric(text) : text);
  const one = { ...rest, name: rest.name };
  if (kind === "choices") one.choices = (choices ?? []).map(value);
  if (kind === "number") one.number = said({ from, to, step, unit });
  if (kind === "yes_no" || kind === "words") one[kind] = true;
  if (kind === "choices") one.several = several;
  const named = kind === "yes_no" && usual ? { yes: true, no: false }[usual.toLowerCase()] ?? usual : undefined;
  const found = said(one);
  if (usual !== undefined) found.usual = named ?? (several && kind === "choices" ? usual.split(",").map((text) => value(text.trim())) : value(usual));
  return found;
}

function findingText(one) {
  const kind = kindOf(one);
  if (kind === "choices") return (one.choices ?? []).map(word).join(", ");
  if (kind === "number") return `${one.number?.from ?? "?"} to ${one.number?.to ?? "?"}${one.number?.unit ? ` ${one.number.unit}` : ""}`;
  return kind === "yes_no" ? "yes or no" : "words";
}

const PEN = [
  { key: "pen", name: "Pen" },
  { key: "at_least_kg", name: "From kg", kind: "number" },
  { key: "below_kg", name: "Below kg", kind: "number" },
  { key: "at_least_gain", name: "Gain from, kg a day", kind: "number" },
  { key: "below_gain", name: "Gain below, kg a day", kind: "number" },
  { key: "heads", name: "Only so many heads", kind: "number" },
  { key: "which", name: "Of them", kind: "touch", of: [["heaviest", "the heaviest"], ["lightest", "the lightest"]] },
  { key: "match", name: "Only where", kind: "lines", hint: "one a line, as in: sex = steer, bull" },
];

const penOut = (one) => ({
  ...one, which: one.lightest ? "lightest" : "heaviest",
  match: Object.entries(one.match ?? {}).map(([key, values]) => `${key} = ${[values].flat().map(word).join(", ")}`),
});

function penIn({ which, match, heads, heaviest: _, lightest: __, ...rest }, was) {
  const had = new Map(Object.values(was.match ?? {}).flat().map((value) => [word(value), value]));
  const value = (text) => (had.has(text) ? had.get(text) : numeric(text));
  const asks = Object.fromEntries((match ?? []).map((line) => {
    const [key, ...values] = line.split("=");
    return [key.trim(), values.join("=").split(",").map((text) => value(text.trim()))];
  }));
  return said({ ...rest, ...(heads !== undefined && { heads, [which]: true }), match: Object.keys(asks).length ? asks : undefined });
}

function penText(one) {
  const band = (low, high, unit) => (low === undefined && high === undefined ? "" : `${low ?? 0} to ${high === undefined ? "…" : high} ${unit}`);
  const parts = [
    one.heads !== undefined && `the ${one.lightest ? "lightest" : "heaviest"} ${one.heads}`,
    band(one.at_least_kg, one.below_kg, "kg"), band(one.at_least_gain, one.below_gain, "kg a day"), ...penOut(one).match,
  ].filter(Boolean);
  return parts.join(" · ") || "all others";
}

const DAM = [
  { key: "to_years", name: "Dams up to, years", kind: "number", hint: "empty in the last row: all older" },
  { key: "birth_kg", name: "Added to the birth weight, kg", kind: "number" },
  { key: "male_kg", name: "Added for males, kg", kind: "number" },
  { key: "female_kg", name: "Added for females, kg", kind: "number" },
];

const plain = (one) => one;

// What is said of each kind of table: its fields, how it goes into them and comes out, and how it is told in a line.
export const TABLES = {
  treatments: { title: "Treatment", many: "Treatments", fields: TREATMENT, out: (one) => ({ round: "up", ...gathered(one) }), in: (one, was) => spread({ ...one, round: one.round === "up" && !was.round ? undefined : one.round }, was), name: (one) => one.name, text: treatmentText },
  findings: { title: "Finding", many: "Findings", fields: FINDING, out: findingOut, in: findingIn, name: (one) => one.name, text: findingText },
  draft: { title: "Pen", many: "Pens", fields: PEN, out: penOut, in: penIn, name: (one) => one.pen, text: penText },
  dam_ages: { title: "Dam's age", many: "Additions for the dam's age", fields: DAM, out: plain, in: said, name: (one) => (one.to_years === undefined ? "all older" : `up to ${one.to_years} years`), text: (one) => `${one.birth_kg ?? 0}, ${one.male_kg ?? 0}, ${one.female_kg ?? 0} kg` },
};

// Opens one table; `done` takes it as the sheet is to spell it, `out` takes it off, `move` moves it by so many places.
export function openTable(key, one, { done, out, move } = {}) {
  const { title, fields, out: shown, in: read } = TABLES[key];
  const values = shown(one);
  const act = (name, text) => el("button", { type: "submit", name: "act", value: name, formnovalidate: true }, text);
  return talk({
    title, yes: "Done",
    fields: [
      el("div", { class: "fields", "data-table": key }, fields.map((each) => field(each, values[each.key]))),
      move || out ? el("div", { class: "more" }, move && act("up", "Move up"), move && act("down", "Move down"), out && act("out", "Take out")) : "",
    ],
    send: async (form) => {
      const how = form.get("act");
      if (how === "out") out();
      else if (how) move(how === "up" ? -1 : 1);
      else done({ ...read(typed(form, fields), one), ...(one.was !== undefined && { was: one.was }) });
      return { done: true, told: true };
    },
  });
}
