// Is it the animal before it, come on again, which had its dose a minute ago?  A person looks, and one touch says.
// The one that stood there as the box stopped may stand there still: was it given what was shown then?

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
  const spelled = JSON.stringify(doses.length ? [settled.weighing, settled.maybe_same, doses] : null);
  if (drawAgain.last === spelled) return;
  drawAgain.last = spelled;
  place.hidden = !doses.length;
  if (place.hidden) return place.replaceChildren();
  const { number, since } = settled.maybe_same;
  const stood = since && doses.every((one) => new Date(one.given_before) >= new Date(since));
  const names = doses.map((one) => one.name).join(" and ");
  const asked = stood
    ? [`The box stopped while number ${number} stood here.  Has this one had ${names}?`, "Not given", "Given"]
    : [`Is this number ${number} again, given ${names} at ${clock(doses[0].given_before)}?`, `Number ${number} again: not given`, "Another: given now"];
  const button = (text, given) => el("button", { type: "button", onclick: () => say(settled, given) }, text);
  place.replaceChildren(el("fieldset", { class: "see" },
    el("legend", {}, asked[0]),
    el("div", { class: "touch" }, button(asked[1], false), button(asked[2], true))));
}
