// What is wrong with this station and with the box itself, until it is over; folded, a line says how much.
// What is wrong with another station is that one's phone's business.

import { $, drawn, el, kept, show } from "../../dom.js";
import { stateText } from "../../words.js";
import { yard } from "../../yard.js";

let folded = kept.get("folded", []); // the troubles that a person has folded away: a new one opens them again
let opened = false; // a person wants to read them while an animal stands there

const ofHere = (stations) => !stations?.length || stations.includes(yard.station);

function texts() {
  const links = yard.state.links ?? {};
  const troubles = (yard.state.troubles ?? [])
    .filter((one) => one.about !== "paused") // told of with its buttons
    .filter((one) => (one.station ? one.station === yard.station : ofHere(links[one.link]?.stations)))
    .map((one) => one.text);
  const away = Object.entries(links)
    .filter(([, one]) => one.state && one.state !== "up" && ofHere(one.stations))
    .map(([name, one]) => `${name} is ${stateText(one.state)}${one.text ? `: ${one.text}` : "."}`);
  return [...troubles, ...away];
}

// While an animal stands there its figures have the room: the troubles are a button in the head, with their number.
const stands = () => yard.near && !["empty", undefined].includes(yard.views[yard.station]?.state);

export function drawTroubles() {
  const all = texts();
  if (!stands() || !all.length) opened = false; // what begins later was not asked for
  const isFolded = (stands() && !opened) || all.every((text) => folded.includes(text));
  const spelled = JSON.stringify([all, isFolded]);
  if (drawTroubles.last === spelled) return;
  drawTroubles.last = spelled;
  show("trouble", all.length > 0);
  show("troubles", all.length > 0 && !isFolded);
  const mark = drawn("svg", { "aria-hidden": "true" }, drawn("use", { href: "#shape-trouble" }));
  const word = all.length === 1 ? "trouble" : "troubles";
  $("trouble").replaceChildren(mark, `${all.length} `, el("span", { class: "word" }, word));
  $("trouble").setAttribute("aria-label", `${all.length} ${word}`);
  $("trouble").setAttribute("aria-expanded", String(!isFolded));
  $("trouble").onclick = () => {
    opened = isFolded;
    kept.set("folded", (folded = isFolded ? [] : all));
    drawTroubles();
  };
  $("troubles").replaceChildren(...all.map((text) => el("p", {}, text)));
}
