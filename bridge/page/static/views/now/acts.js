// What can be done for an animal: the one given; else the one that is seen on the platform; else, named, the last one.

import { choice, ready, send, talk, touches } from "../../ask.js";
import { el, kept, unsent } from "../../dom.js";
import { dose, named } from "../../words.js";
import { arrived, here, table, view, yard } from "../../yard.js";

export const numberOf = (one) => one.job_number ?? one.number;

// Whose word it will be: `id()` gives the weighing to send; while only the front feet are on, it waits for the box to know it.
function meant(one) {
  if (one) {
    return { of: `${one.station} ${one.number}`, called: `no. ${numberOf(one)}`, id: async () => ({ weighing: one.weighing }), text: `For no. ${numberOf(one)}, ${named(one)}.`, weighing: one, treatments: one.treatments };
  }
  const shown = view();
  if (yard.near && shown?.number != null) {
    const settled = yard.settled[yard.station];
    const known = settled?.number === shown.number ? settled : null;
    const request = shown.weighing ? { weighing: shown.weighing } : { number: shown.number };
    const called = `no. ${known?.job_number ?? shown.number}`;
    return { of: `${yard.station} ${shown.number}`, called, id: async () => request, text: `For the animal here now, ${called}.`, treatments: known?.treatments ?? [] };
  }
  const last = here().at(-1);
  if (yard.near && shown?.state === "arriving") {
    return {
      of: null, called: "the one that was stepping on",
      id: async () => {
        const weighing = await arrived();
        return weighing ? { weighing } : null;
      },
      text: "For the animal that is stepping on.", treatments: [], instead: last,
    };
  }
  return last ? { ...meant(last), text: `Nobody stands there. For the last one, no. ${numberOf(last)}, ${named(last)}, which has left.` } : null;
}

const GONE = "It stepped off again before the box knew it. Touch its line in the list, or wait for the next.";

function about(one, form) {
  const animal = meant(one);
  if (!animal) return talk({ title: form({}).title, about: "No animal has been weighed yet.", fields: [], yes: "", no: "Back" });
  const { title, fields, request, yes, stern, instead } = form(animal);
  const other = animal.instead && el("p", { class: "quiet" },
    `Not this one? No. ${numberOf(animal.instead)}, ${named(animal.instead)}, has left: touch its line in the list.`);
  return talk({
    title, about: animal.text, fields: [...fields, other], yes, stern, instead,
    send: async (typed) => {
      const id = await animal.id();
      return id ? send({ station: yard.station, ...id, ...request(typed) }) : { done: false, text: GONE };
    },
  });
}

// Notes typed before are offered again: a phone's own phrases, the last used first.
const phrases = () => kept.get("phrases", ["lame", "eye", "cough", "thin", "horn", "bad temper"]);

function remember(text) {
  if (text.length > 40) return;
  kept.set("phrases", [text, ...phrases().filter((one) => one !== text)].slice(0, 8));
}

const number = (attributes) => el("input", { inputmode: "numeric", autocomplete: "off", maxlength: 64, required: true, ...attributes });

// The keyboard of figures, and a way to the letters for those that have some in their numbers.
function ear(label, name = "visual") {
  const field = number({ name });
  const letters = el("button", { type: "button", class: "letters", onclick: () => {
    field.inputMode = field.inputMode === "text" ? "numeric" : "text";
    field.blur();
    field.focus();
  } }, "ABC");
  return el("div", { class: "with" }, el("label", {}, label, field), letters);
}

const taken = (animal) => {
  const names = animal.treatments?.map((given) => given.name) ?? [];
  return names.length ? names : table().treatments ?? [];
};
const GIVEN = "It was given";

// The doses of which a person can say that they were given: those that were not, and those in doubt, until somebody spoke.
export function toGive(one) {
  const said = (one.doses_said ?? []).filter((word) => word.given != null || word.amount != null).map((word) => word.name.trim().toLowerCase());
  const doubtful = one.flags.includes("dose-doubtful");
  return one.treatments.filter((given) => given.skipped || (doubtful && !said.includes(given.name.trim().toLowerCase())));
}

const none = () => el("p", {}, "The job sheet has no treatments.");

// What was typed and not sent outlives a reload of the page, until a note is sent or its own is left; with whose it is.
const leftOver = () => unsent.get("note", null);

function drafted(animal, text) {
  const left = leftOver();
  if (left && left.of === animal?.of && left.of !== null) text.value = left.text;
  text.addEventListener("input", () => unsent.set("note", { of: animal?.of, called: animal?.called, text: text.value }));
  return left && left.text && text.value !== left.text && el("p", { class: "quiet" }, `Typed for ${left.called} and not sent: ${left.text}`);
}

function noted(animal, sent) {
  if (sent || leftOver()?.of === animal?.of) unsent.set("note", null);
}

export const acts = {
  note: (one) => {
    const text = el("textarea", { name: "text", rows: 2, maxlength: 500, required: true });
    let animal;
    return about(one, (whose) => ({
      title: "Note",
      fields: [
        drafted((animal = whose), text),
        el("div", { class: "touch", role: "group", "aria-label": "Ready phrases" },
          phrases().map((phrase) => ready(text, phrase))),
        el("label", {}, "What you see", text),
      ],
      request: (typed) => {
        const said = typed.get("text").replace(/\s+/g, " ").trim();
        remember(said);
        return { kind: "note", text: said };
      },
    })).then((sent) => noted(animal, sent));
  },
  number: (one) => about(one, () => ({
    title: "Ear number",
    fields: [ear("The number you can read on the ear")],
    request: (typed) => ({ kind: "identify", visual: typed.get("visual") }),
  })),
  tag: (one) => about(one, () => ({
    title: "Tag",
    fields: [el("label", {}, "The tag's 15 digits", number({ name: "tag", placeholder: "999 000000112233" }))],
    request: (typed) => ({ kind: "identify", tag: typed.get("tag") }),
  })),
  skip: (one) => about(one, (animal) => {
    const all = taken(animal);
    return {
      title: "Not given",
      fields: all.length ? [touches("treatment", "Which treatment was not given?", all)] : [none()],
      yes: "",
      request: (typed) => ({ kind: "skip", treatment: typed.get("treatment") }),
    };
  }),
  given: (one) => about(one, () => ({
    title: "Given",
    fields: [touches("treatment", "Which treatment was given?", toGive(one).map((given) => given.name))],
    yes: "",
    request: (typed) => ({ kind: "skip", treatment: typed.get("treatment"), given: true }),
  })),
  dose: (one) => about(one, (animal) => ({
    title: "Another dose",
    fields: [
      choice("treatment", "Which treatment?", taken(animal)),
      ...(animal.treatments ?? []).map((given) => el("p", { class: "quiet" }, `${given.name}: ${dose(given)}`)),
      el("label", {}, "What it was given, in the treatment's unit", number({ name: "amount", inputmode: "decimal", pattern: "[0-9]+([.,][0-9]+)?", title: "a number, such as 35 or 2.5" })),
    ],
    yes: "This was given",
    request: (typed) => ({ kind: "dose", treatment: typed.get("treatment"), amount: Number(typed.get("amount").replace(",", ".")) }),
  })),
  void: (one) => about(one, (animal) => {
    const had = (animal?.treatments ?? []).filter((given) => !given.skipped).map((given) => given.name);
    return {
      title: "Strike out",
      fields: [
        el("label", {}, "Why (may be left empty)", el("input", { name: "reason", maxlength: 500, autocomplete: "off" })),
        had.length ? touches("given", `Was it given ${had.join(" and ")}?  If so, it stays withheld.`, [GIVEN, "Not given"]) : "",
      ],
      yes: had.length ? "" : "Strike it out",
      stern: true,
      request: (typed) => ({ kind: "void", reason: typed.get("reason"), ...(had.length ? { given: typed.get("given") === GIVEN } : {}) }),
    };
  }),
  mark: (one) => about(one, () => markForm()),
};

// The form of a mark, for an animal on the platform and for one of the herd book.
export function markForm() {
  const text = el("input", { name: "text", maxlength: 500, autocomplete: "off", required: true });
  return {
    title: "Mark",
    fields: [
      el("div", { class: "touch", role: "group", "aria-label": "Ready words" },
        ["keep back", "vet", "sold"].map((word) => ready(text, word))),
      el("label", {}, "What to look out for", text),
      el("label", {}, "Last day (may be left empty)", el("input", { name: "until", type: "date" })),
    ],
    yes: "Mark it",
    request: (typed) => ({ kind: "mark", text: typed.get("text"), ...(typed.get("until") && { until: typed.get("until") }) }),
  };
}
