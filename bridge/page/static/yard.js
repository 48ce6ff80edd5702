// What is known of the yard, for all views: kept from what the box tells, and told on to whoever watches.

import { kept } from "./dom.js";
import { noise } from "./noise.js";

const KEPT = 300;

// state: the box in brief; views: each platform as it is; settled: each station's latest; weighings: by id, the latest
// revisions; sentences: what each flag means; heard: the tag that each station's readers heard last; near: whether the box is heard; station: the one that this phone is for.
export const yard = {
  state: {}, views: {}, settled: {}, weighings: new Map(), sentences: {}, heard: {}, near: false, station: kept.get("station", null),
};

export const view = () => yard.views[yard.station];
export const table = () => yard.state.stations?.[yard.station] ?? {};
export const stations = () => Object.keys(yard.state.stations ?? {});
export const here = () => [...yard.weighings.values()].filter((one) => one.station === yard.station);

const watching = new Set();

// `one(what)` is called when something has changed: "live" the platform, "state" the box, "weighing" an animal's record,
// "station" which station this phone is for, "near" whether the box is heard.
export const watch = (one) => watching.add(one);
const tell = (what, data) => watching.forEach((one) => one(what, data));

// A button that is drawn anew under the finger would lose the touch: lists wait until it is lifted.  The sign never waits.
const LIFTED_MS = 1000; // or has rested for so long; and for so long after it the click may come
let held = null;

function told(what, data) {
  if (held && (what === "state" || what === "weighing")) held.told.push([what, data]);
  else tell(what, data);
}

function lifted() {
  if (!held) return;
  clearTimeout(held.timer);
  const waiting = held.told;
  held = null;
  for (const one of waiting) tell(...one);
  tell("live");
}

// Whether a finger is down: what is under it must not be drawn anew.
export const touched = () => held !== null;

addEventListener("pointerdown", () => (held ??= { told: [], timer: setTimeout(lifted, LIFTED_MS) }));
addEventListener("pointerup", () => {
  if (!held) return;
  clearTimeout(held.timer);
  held.timer = setTimeout(lifted, LIFTED_MS);
});
for (const end of ["click", "pointercancel"]) addEventListener(end, () => setTimeout(lifted), true); // after all who hear it

export function chooseStation(name) {
  kept.set("station", (yard.station = name));
  told("station");
}

export function begin({ state, views, weighings, flags }) {
  yard.views = views;
  yard.sentences = flags;
  weighings.forEach(keep);
  take(state);
  told("weighing");
}

export function take(state) {
  yard.state = state;
  const had = yard.station;
  if (!stations().includes(had)) yard.station = stations()[0] ?? null;
  if (yard.station !== had) told("station");
  told("state");
}

function keep(weighing) {
  const had = yard.weighings.get(weighing.weighing);
  if (had && had.revision >= weighing.revision) return;
  yard.weighings.set(weighing.weighing, weighing);
  if (yard.weighings.size > KEPT) yard.weighings.delete(yard.weighings.keys().next().value);
}

export function event({ type, data }, past) {
  const sound = past || (data.station && data.station !== yard.station) ? () => {} : noise;
  if (type === "neckyoke.settled") {
    yard.settled[data.station] = data;
    const shown = yard.views[data.station];
    if (!past && (!shown || shown.number == null || shown.number <= data.number)) {
      yard.views[data.station] = {
        ...shown, state: "settled", number: data.number, weighing: data.weighing, settled_kg: data.weight.kg,
        grade: data.weight.grade, tag: data.tag?.id ?? null, tags_seen: data.tags_seen, may_leave: data.may_leave,
        missing: data.missing, next: shown?.number === data.number && shown.state === "settled" ? shown.next : "",
      };
    }
    if (!past) told("settled", data);
    sound(data.may_leave ? "settled" : data.missing?.length ? "tag" : "held");
    told("live");
  } else if (type === "neckyoke.weighing") {
    keep(data);
    if (data.revision === 1 && data.flags.includes("no-tag")) sound("tag");
    told("weighing", data);
  } else if (type === "neckyoke.tag") {
    yard.heard[data.station] = { tag: data.tag.id, at: Date.now() };
  } else if (type === "neckyoke.attention") {
    const troubles = (yard.state.troubles ?? []).filter((one) => one.about !== data.about || one.station !== data.station);
    const { about, text, station, link } = data;
    yard.state = { ...yard.state, troubles: data.over ? troubles : [...troubles, { about, text, station, link }] };
    if (about === "marked") sound("mark");
    if (!data.over) sound("trouble");
    told("state");
  } else if (type === "neckyoke.link") {
    yard.state.links = { ...yard.state.links, [data.link]: { ...yard.state.links?.[data.link], state: data.state, text: data.text } };
    if (data.state !== "up") sound("trouble");
    told("state");
  }
}

export function live(shown) {
  yard.views[shown.station] = shown;
  if (shown.tag) yard.heard[shown.station] = { tag: shown.tag, at: Date.now() };
  if (shown.station === yard.station) told("live");
}

// The weighing of the animal that is stepping on, as soon as the box knows that it is one; null when it stepped off again.
export function arrived(station = yard.station, within = 30000) {
  return new Promise((resolve) => {
    const look = () => {
      const shown = yard.views[station];
      if (shown?.weighing) return end(shown.weighing);
      if (!yard.near || !shown || shown.state === "empty") end(null);
    };
    const end = (found) => {
      clearTimeout(timer);
      watching.delete(look);
      resolve(found);
    };
    const timer = setTimeout(() => end(null), within);
    watching.add(look);
    look();
  });
}

export function near(is) {
  yard.near = is;
  told("near");
}
