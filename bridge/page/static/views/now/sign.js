// The sign: may the animal go?  Drawn from the live view, the settled event of the same animal, and whether the box is near.

import { $, el, say } from "../../dom.js";
import { GRADES, UNKNOWN, VERDICTS, dose, flagText, kilos, missingText, tagText, withheldText } from "../../words.js";

const SETTLED = new Set(["settled", "leaving"]);
const NOTHING = new Set(["away", "blank"]);

// The verdict, from what is known now.  Nothing old is shown as if it were now.
export function verdict(view, near) {
  if (!near) return "away";
  if (!view || (view.kg == null && !SETTLED.has(view.state))) return "blank";
  if (view.state === "empty") return "next";
  if (!SETTLED.has(view.state)) return "wait";
  return view.may_leave === false ? "hold" : "go";
}

// `still`: a finger is down, and another animal is not there yet: what would move the buttons below waits, a second at most.
export function drawSign(view, settled, near, recorded, still = false) {
  const what = verdict(view, near);
  const known = what === "go" || what === "hold" ? settled : null;
  const sign = $("sign");
  if (sign.dataset.verdict !== what) {
    sign.dataset.verdict = what;
    $("shape").setAttribute("href", `#shape-${what === "blank" ? "wait" : what}`);
  }
  say("verdict", VERDICTS[what]);
  $("strip").dataset.verdict = what;
  say("stripverdict", VERDICTS[what]);
  const kg = NOTHING.has(what) ? null : SETTLED.has(view.state) ? view.settled_kg ?? view.kg : view.kg;
  const shown = kilos(kg);
  say("kg", shown);
  say("stripkg", kg == null ? "" : shown);
  document.documentElement.classList.toggle("stands", !NOTHING.has(what) && what !== "next");
  $("kg").classList.toggle("long", shown.length > 5);
  $("kg").classList.toggle("none", kg == null);
  say("sure", sureText(what, view));
  speak(what, view, shown);
  if (still) return;
  const gain = known?.gain?.kg_per_day;
  say("gain", gain == null ? "" : `${gain.toFixed(2)} kg a day`);
  sayNamed("pen", "Pen", known?.pen ?? "");
  $("pen").hidden = !known?.pen;
  sayNamed("who", ...whoText(what, view, known, recorded));
  const ear = known?.animal?.visual ?? view?.visual;
  $("who").classList.toggle("ear", !NOTHING.has(what) && what !== "next" && !!ear);
  say("tag", !NOTHING.has(what) && what !== "next" && view?.tag && ear ? tagText(view.tag) : "");
  say("next", nextText(what, view));
  drawGive(known, NOTHING.has(what) || what === "next" ? null : view);
}

function sureText(what, view) {
  if (NOTHING.has(what)) return "";
  if (what === "next") return "empty";
  if (what === "wait") return view.moving === false ? "nearly settled" : "moving";
  return `settled, ${GRADES[view.grade] ?? ""}`;
}

// A small word and a large one.
function sayNamed(id, name, value) {
  const spelled = `${name} ${value}`;
  if ($(id).dataset.spelled === spelled) return;
  $(id).dataset.spelled = spelled;
  $(id).replaceChildren(...(name && value ? [el("small", {}, name), " "] : []), value);
}

function whoText(what, view, settled, recorded) {
  if (NOTHING.has(what)) return ["", ""];
  if (what === "next") return ["", recorded ? `✓ No. ${recorded.job_number ?? recorded.number} is recorded` : ""];
  const visual = settled?.animal?.visual ?? view.visual;
  if (visual) return ["Ear", visual];
  if (view.tag) return ["", tagText(view.tag)];
  if (view.missing?.length) return ["", missingText(view.missing)];
  return ["", view.tags_seen > 1 ? "Several tags heard, none sure" : "No tag heard"];
}

// The one thing to do; when the verdict and the pen below say it all, nothing more.
function nextText(what, view) {
  if (what === "go") return "";
  if (what === "away") return "The figures stop until it is heard again. The box itself goes on weighing.";
  return what === "blank" ? "The box is there; its scale has said nothing yet." : view.next ?? "";
}

const SHOWN = 2; // doses that are seen at once; the rest under a plain word
let opened = null; // the animal whose further doses a person wants to see

function drawGive(settled, view) {
  const rows = [];
  for (const text of view?.marks ?? []) rows.push(["Look out", text, "mark"]);
  const dates = withheldText(settled?.withheld ?? view?.withheld);
  for (const { until, kind, product } of dates) rows.push([[el("small", {}, el("b", {}, kind), until === UNKNOWN ? "" : " until"), ` ${until}`], product, "until", `${kind} ${until}`]);
  $("sign").classList.toggle("crowded", dates.length > 1);
  const doses = settled?.treatments ?? [];
  const all = opened === settled?.weighing;
  doses.forEach((one, at) => {
    const kind = at < SHOWN || all ? "dose" : "dose rest";
    rows.push([one.name, dose(one), kind]);
    if (one.given_before || one.remark?.includes("expired")) rows.push(["Look", one.remark, at < SHOWN || all ? "" : "rest"]);
  });
  for (const flag of settled?.flags ?? []) if (flag !== "no-tag" && flag !== "withheld" && flag !== "marked") rows.push(["Look", flagText(flag), ""]);
  const spelled = JSON.stringify([rows.map(([name, ...rest]) => [typeof name === "string" ? name : "", ...rest]), all]);
  if (drawGive.last === spelled) return;
  drawGive.last = spelled;
  $("give").replaceChildren(...rows.map(([name, value, kind]) => el("div", { class: kind }, el("dt", {}, name), el("dd", {}, value))));
  const more = doses.length - SHOWN;
  $("more").hidden = more <= 0;
  $("more").setAttribute("aria-expanded", String(all));
  $("more").textContent = all ? "Fewer" : `${more} more`;
  $("more").onclick = () => {
    opened = all ? null : settled.weighing;
    drawGive(settled, view);
  };
}

// For a screen reader: said when the verdict changes, not with every reading.
function speak(what, view, shown) {
  const key = `${what} ${view?.number} ${view?.tag}`;
  if (speak.last === key) return;
  speak.last = key;
  const weight = what === "go" || what === "hold" ? `${shown} kilograms. ` : "";
  say("spoken", `${weight}${VERDICTS[what]}. ${(what === "hold" && view.next) || ""}`);
}

// Pens by head count: places left, and the cut.
export function drawPlaces(places) {
  const text = (places ?? []).map((one) => {
    const cut = one.cut_kg == null ? "" : `, ${one.heaviest ? "from" : "to"} ${Math.round(one.cut_kg)} kg`;
    const short = one.shortfall ? `, ${one.shortfall} too few to come` : "";
    return `${one.pen}: ${one.left} of ${one.heads} left${one.left ? cut + short : ""}`;
  }).join(" · ");
  $("places").hidden = !text;
  say("places", text);
}

// How many of how many; without a roster nobody knows of how many, and the number on the sign is enough.
export function drawCount({ expected, not_seen: missing, animals } = {}) {
  const done = missing == null ? animals : expected - missing;
  $("count").hidden = !expected;
  if (!expected) return;
  say("counted", `${done} of ${expected} weighed`);
  $("done").max = expected;
  $("done").value = done;
}
