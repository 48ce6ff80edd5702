// Puts the page together: its views, which of them is seen, and the line to the box.
//
// A view is a module with `prepare(place)`, called once with its section; `draw(what)`, called when what is known of the
// yard has changed (yard.js says what); and `enter(rest)`, called when it comes to be seen, with what stands behind the
// slash of its address (#animals/4c1f… gives "4c1f…").  A view that costs the box something asks for it in `enter`.

import { letIn, takeLink } from "./ask.js";
import { stayAwake } from "./awake.js";
import { $, el, say, show } from "./dom.js";
import { prepare as prepareSound } from "./noise.js";
import { follow } from "./stream.js";
import { begin, chooseStation, event, live, near, stations, take, watch, yard } from "./yard.js";
import * as animals from "./views/animals/animals.js";
import * as box from "./views/box/box.js";
import * as job from "./views/job/job.js";
import * as now from "./views/now/now.js";

const VIEWS = { now, job, animals, box };

// The sign out of sight: then the strip with verdict and weight is seen.
new IntersectionObserver(([one]) => document.documentElement.classList.toggle("below", !one.isIntersecting), { threshold: 0.2 })
  .observe(document.querySelector("#sign .verdict"));

const address = () => location.hash.slice(1).split("/");
const seen = () => (address()[0] in VIEWS ? address()[0] : "now");

function goTo() {
  const name = seen();
  for (const section of document.querySelectorAll(".view")) section.hidden = section.id !== name;
  document.querySelectorAll("nav a").forEach((link) =>
    link.hash === `#${name}` ? link.setAttribute("aria-current", "page") : link.removeAttribute("aria-current"));
  document.documentElement.dataset.view = name;
  VIEWS[name].enter?.(address().slice(1).join("/"));
  scrollTo(0, 0);
}

function drawHead() {
  const names = stations();
  show("choose", names.length > 1);
  const options = [...$("station").options].map((option) => option.value);
  if (options.join() !== names.join()) $("station").replaceChildren(...names.map((name) => el("option", {}, name)));
  if (yard.station) $("station").value = yard.station;
  say("site", yard.state.site || "neckyoke");
  say("place", names.length === 1 ? names[0] : "");
}

watch((what, data) => {
  if (what !== "live" && what !== "settled") drawHead();
  for (const name in VIEWS) VIEWS[name].draw?.(what, data);
  if (what === "station") VIEWS[seen()].enter?.(address().slice(1).join("/"));
});

for (const name in VIEWS) VIEWS[name].prepare($(name));
prepareSound();
$("station").addEventListener("change", () => chooseStation($("station").value));
addEventListener("hashchange", (event) => takeLink(event.oldURL) || goTo());
letIn(); // the code of the link is kept at once: what is drawn next asks with it, and nothing is drawn anew when it is known
goTo();
stayAwake();
follow({ begin, event, live, state: take, near });
