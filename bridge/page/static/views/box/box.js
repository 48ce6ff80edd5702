// The view *box*: its wires in plain words, sheets, sounds, the access code.

import { send, talk, unlock } from "../../ask.js";
import { $, el, say, toast } from "../../dom.js";
import { prepareNoises } from "../../noise.js";
import { stateText } from "../../words.js";
import { prepareSpeech } from "../now/speak.js";
import { table, yard } from "../../yard.js";

const CAUTION = "Doses and withholding dates are arithmetic on what was typed: the label, the vet and local rules decide. " +
  "Work beside a crush from the outside, with the animal held or gone.";

export function prepare(place) {
  const button = (text, act) => el("button", { type: "button", "data-act": act.name, onclick: act }, text);
  place.append(
    el("h2", {}, "Job sheet"), el("p", { id: "sheet", class: "big" }),
    el("div", { class: "acts" },
      el("a", { class: "button", href: "#job/sheets" }, "Sheets"), button("Read the sheet again", readAgain), button("Set zero", zero)),
    el("h2", {}, "Wires, and where weighings go"), el("ul", { id: "wires", class: "wires" }),
    el("h2", {}, "This phone"), prepareNoises(), prepareSpeech(),
    el("p", { class: "acts" }, el("button", { type: "button", id: "lock", onclick: () => unlock() }, "Access code")),
    el("p", { class: "quiet" }, CAUTION));
}

export function draw(what) {
  if (what !== "state" && what !== "station") return;
  say("sheet", table().sheet || "No sheet: weights and tags only.");
  const { links = {}, outlets = {}, troubles = [] } = yard.state;
  const about = (name) => troubles.filter((one) => one.link === name).map((one) => one.text);
  const line = (name, texts) => el("li", {}, el("b", {}, name), ` ${[...new Set(texts)].filter(Boolean).join(" ")}`);
  const stop = (text) => (text && !/[.?!]$/.test(text) ? `${text}.` : text);
  $("wires").replaceChildren(
    ...Object.entries(links).map(([name, { state, text, stations }]) =>
      line(name, [`is ${stateText(state)}${stations?.length ? `, for ${stations.join(" and ")}` : ""}.`, stop(text), ...about(name)])),
    ...Object.entries(outlets).map(([name, one]) =>
      line(name, [one.backlog ? `${one.backlog} messages wait for it.` : "has been sent everything.", ...Object.values(one.trouble ?? {})])));
}

// A sheet or roster that was changed by hand holds from the next animal on.
async function readAgain() {
  const said = await send({ kind: "sheet", station: yard.station });
  if (said && !said.told) toast(said.text);
}

const zero = () => talk({
  title: "Set zero",
  about: "The platform must be empty and clean, and stand still.",
  fields: [],
  yes: "It is empty: set zero",
  send: () => send({ kind: "zero", station: yard.station }),
});
