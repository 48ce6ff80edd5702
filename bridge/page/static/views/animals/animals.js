// The view *animals*: the herd book by search, and one animal's story.

import { el } from "../../dom.js";

export function prepare(place) {
  place.append(el("h2", {}, "Animals"), el("p", { class: "quiet" }, "The herd book comes here."));
}
