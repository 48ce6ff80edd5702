// A job that is paused, told where the animals are looked at: one touch goes on; another counts in who has passed, all of
// them here, or from one animal on from its card.

import { $, el, toast } from "../../dom.js";
import { send } from "../../ask.js";
import { table, yard } from "../../yard.js";

// With `from`, all who have passed since that number are counted in.
export async function goOn(more = {}) {
  const said = await send({ kind: "resume", station: yard.station, ...more });
  if (said && !said.told) toast(said.text);
}

const many = (count, one, more) => `${count} ${count === 1 ? one : more}`;

// What is said of a pause, and the buttons that end it; nothing while the job is open and nobody has passed.
export function pauseParts({ state, turn, passed } = {}) {
  if (state !== "paused" && !passed) return [];
  const button = (text, act, kind) => el("button", { type: "button", class: kind, onclick: act }, text);
  const who = passed && `${many(passed.animals, "animal with a tag has", "animals with a tag have")} passed while it was paused, and ${passed.animals === 1 ? "counts" : "count"} nowhere.`;
  const others = passed?.others > 0 && ` ${many(passed.others, "stay", "stays")} without a tag would be counted in too: strike those out.`;
  return [
    el("p", { class: "big" }, state === "paused" ? `Job ${turn} is paused.` : `Job ${turn} was paused.`),
    who && el("p", {}, who, others),
    el("div", { class: "acts" },
      passed && button("Count them in", () => goOn({ from: passed.first }), "main"),
      state === "paused" && button(passed ? "Go on without them" : "Go on", () => goOn(), passed ? "" : "main")),
  ];
}

export function drawPaused() {
  const { job } = table();
  const told = JSON.stringify([yard.station, job?.state, job?.turn, job?.passed]);
  if (drawPaused.last === told) return;
  drawPaused.last = told;
  const parts = pauseParts(job ?? {}).filter(Boolean);
  $("paused").hidden = !parts.length;
  $("paused").replaceChildren(...parts);
  $("paused").parentNode[job?.state === "paused" ? "prepend" : "append"]($("paused")); // what is over does not stand before the findings
}
