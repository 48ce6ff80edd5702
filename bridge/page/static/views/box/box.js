// The view *box*: its wires in plain words, sheets, sounds, the access code.

import { choice, send, talk, unlock } from "../../ask.js";
import { $, el, say } from "../../dom.js";
import { prepareNoises } from "../../noise.js";
import { stateText } from "../../words.js";
import { prepareSpeech } from "../now/speak.js";
import { table, yard } from "../../yard.js";

const CAUTION = "Doses and withholding dates are arithmetic on what was typed: the label, the vet and local rules decide. " +
  "Work beside a crush from the outside, with the animal held or gone.";

export function prepare(place) {
  const button = (act, text) => el("button", { type: "button", "data-act": act, onclick: acts[act] }, text);
  place.append(
    el("h2", {}, "Job sheet"), el("p", { id: "sheet", class: "big" }),
    el("div", { class: "acts" }, button("sheet", "Choose sheet"), button("zero", "Set zero")),
    el("h2", {}, "Wires and outlets"), el("ul", { id: "wires", class: "wires" }),
    el("h2", {}, "This phone"), prepareNoises(), prepareSpeech(),
    el("p", { class: "acts" }, el("button", { type: "button", id: "lock", onclick: () => unlock() }, "Access code")),
    el("p", { class: "quiet" }, CAUTION));
}

export function draw(what) {
  if (what !== "state" && what !== "station") return;
  say("sheet", table().sheet || "No sheet: weights and tags only.");
  const links = Object.entries(yard.state.links ?? {});
  const outlets = Object.entries(yard.state.outlets ?? {});
  const line = (name, text) => el("li", {}, el("b", {}, name), ` ${text}`);
  $("wires").replaceChildren(
    ...links.map(([name, one]) => line(name, [stateText(one.state), one.text].filter(Boolean).join(": "))),
    ...outlets.map(([name, one]) => line(name, [
      one.backlog ? `${one.backlog} events wait for it.` : "has everything.", ...Object.values(one.trouble ?? {})].join(" "))));
}

const acts = {
  sheet: () => {
    const files = table().sheets ?? [];
    return talk({
      title: "Choose sheet",
      about: "It holds from the next animal on.",
      fields: [files.length
        ? choice("file", "Job sheet", files)
        : el("label", {}, "Its file; empty reads the present one again", el("input", { name: "file", autocomplete: "off" }))],
      yes: "Use it",
      send: (typed) => send({ kind: "sheet", station: yard.station, ...(typed.get("file") && { file: typed.get("file") }) }),
    });
  },
  zero: () => talk({
    title: "Set zero",
    about: "The platform must be empty and clean, and stand still.",
    fields: [],
    yes: "It is empty: set zero",
    send: () => send({ kind: "zero", station: yard.station }),
  }),
};
