// Is it the animal before it, come on again, which had its dose a minute ago?  A person looks, and one touch says.

import { $, el, toast } from "../../dom.js";
import { send } from "../../ask.js";
import { clock } from "../../words.js";

const plain = (name) => name.trim().toLowerCase();

// The doses of which nobody has said yet whether they were given.
export function doubted(settled) {
  if (!settled?.maybe_same) return [];
  const words = (settled.doses_said ?? []).filter((one) => one.given != null || one.amount != null);
  const said = words.map((one) => plain(one.name));
  return (settled.treatments ?? []).filter((one) => one.skipped && one.given_before && !said.includes(plain(one.name)));
}

async function say(settled, given) {
  for (const one of doubted(settled)) {
    const answer = await send({ kind: "skip", station: settled.station, weighing: settled.weighing, treatment: one.name, given });
    if (!answer?.done) return answer && toast(answer.text);
  }
}

export function drawAgain(settled) {
  const place = $("again");
  const doses = doubted(settled);
  const spelled = JSON.stringify(doses.length ? [settled.weighing, doses] : null);
  if (drawAgain.last === spelled) return;
  drawAgain.last = spelled;
  place.hidden = !doses.length;
  if (place.hidden) return place.replaceChildren();
  const number = settled.maybe_same.number;
  const button = (text, given) => el("button", { type: "button", onclick: () => say(settled, given) }, text);
  place.replaceChildren(el("fieldset", { class: "see" },
    el("legend", {}, `Is this number ${number} again, given ${doses.map((one) => one.name).join(" and ")} at ${clock(doses[0].given_before)}?`),
    el("div", { class: "touch" }, button(`Number ${number} again: not given`, false), button("Another: given now", true))));
}
