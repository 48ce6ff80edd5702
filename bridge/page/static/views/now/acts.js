// What can be done for an animal: the one given, else the one standing now, else the last one.

import { choice, send, talk } from "../../ask.js";
import { el } from "../../dom.js";
import { named } from "../../words.js";
import { here, table, view, yard } from "../../yard.js";

function meant(one) {
  if (one) return { request: { weighing: one.weighing }, text: `For no. ${one.number}, ${named(one)}.`, treatments: one.treatments };
  const shown = view();
  if (yard.near && shown?.number != null) {
    const settled = yard.settled[yard.station];
    const given = settled?.number === shown.number ? settled.treatments : [];
    return { request: { number: shown.number }, text: `For the animal here now, no. ${shown.number}.`, treatments: given };
  }
  const latest = here().at(-1);
  return latest ? meant(latest) : null;
}

function about(one, form) {
  const animal = meant(one);
  if (!animal) return talk({ title: form(null).title, about: "No animal has been weighed yet.", fields: [], yes: "" });
  const { title, fields, request, yes, stern } = form(animal);
  return talk({
    title, about: animal.text, fields, yes, stern,
    send: (typed) => send({ station: yard.station, ...animal.request, ...request(typed) }),
  });
}

export const acts = {
  note: (one) => about(one, () => ({
    title: "Note",
    fields: [el("label", {}, "What you see", el("textarea", { name: "text", rows: 3, maxlength: 500, required: true }))],
    request: (typed) => ({ kind: "note", text: typed.get("text").replace(/\s+/g, " ") }),
  })),
  number: (one) => about(one, () => ({
    title: "Ear number",
    fields: [el("label", {}, "The number you can read on the ear", el("input", { name: "visual", maxlength: 64, required: true, autocomplete: "off" }))],
    request: (typed) => ({ kind: "identify", visual: typed.get("visual") }),
  })),
  skip: (one) => about(one, (animal) => {
    const names = animal?.treatments?.map((given) => given.name) ?? [];
    const all = names.length ? names : table().treatments ?? [];
    return {
      title: "Not given",
      fields: all.length
        ? [choice("treatment", "Which treatment was not given?", all)]
        : [el("p", {}, "The job sheet has no treatments.")],
      yes: all.length ? "Not given" : "",
      request: (typed) => ({ kind: "skip", treatment: typed.get("treatment") }),
    };
  }),
  void: (one) => about(one, () => ({
    title: "Strike out",
    fields: [el("label", {}, "Why (may be left empty)", el("input", { name: "reason", maxlength: 500, autocomplete: "off" }))],
    yes: "Strike it out",
    stern: true,
    request: (typed) => ({ kind: "void", reason: typed.get("reason") }),
  })),
};
