// Small helpers: find, make, change only what changed.  Text goes in as text, never as markup.

export const $ = (id) => document.getElementById(id);

export function el(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value != null) made.setAttribute(name, value);
  }
  made.append(...children.flat(2).filter((child) => child != null && child !== false));
  return made;
}

export function drawn(tag, attributes = {}, ...children) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

// A picture that the box drew.
export const svg = (text) => document.importNode(new DOMParser().parseFromString(text, "image/svg+xml").documentElement, true);

const AT_ONCE = 8; // rows that a phone shows below the search: the first picture waits for no more
const NEAR = { rootMargin: "600px" };
const lists = new WeakMap(); // a place to what is to be shown there

// Fills a list: what a screen shows is there at once, the rest as the end of what is drawn nears.
export function fill(place, rows, made) {
  if (!lists.has(place)) {
    const end = el("div", { "aria-hidden": "true" });
    place.after(end);
    lists.set(place, { end, sight: new IntersectionObserver((told) => told.at(-1).isIntersecting && further(place), NEAR) });
  }
  Object.assign(lists.get(place), { rows, made });
  place.replaceChildren();
  further(place);
}

function further(place) {
  const { rows, made, end, sight } = lists.get(place);
  const shown = place.children.length;
  place.append(...rows.slice(shown, shown + AT_ONCE).map(made));
  sight.disconnect(); // and asked again: it tells only of changes
  if (shown + AT_ONCE < rows.length) sight.observe(end);
}

export function say(id, text) {
  const place = $(id);
  if (place.textContent !== text) place.textContent = text;
}

export function show(id, visible) {
  $(id).hidden = !visible;
}

const toasted = document.getElementById("toast"); // kept here: what it was moved into may be drawn anew without it

// What was said last, for a while, over whatever is open: `act` is { text, run } for a button beside it.
export function toast(text, act, ms = act ? 10000 : 6000) {
  toasted.replaceChildren(el("span", { role: "status" }, text), act ? el("button", { type: "button", onclick: () => { hideToast(); act.run(); } }, act.text) : "");
  raiseToast();
  clearTimeout(toast.timer);
  toast.timer = setTimeout(hideToast, ms);
}

const hideToast = () => toasted.replaceChildren();

// A dialog makes all beneath it inert: the toast is moved into the one on top, and out again before that goes away.
export function raiseToast() {
  const open = [...document.querySelectorAll("dialog[open]")];
  (open.at(-1) ?? document.body).append(toasted);
}

export function lowerToast() {
  document.body.append(toasted);
}

const store = (where) => ({
  get: (key, otherwise) => {
    try { return JSON.parse(where().getItem(key)) ?? otherwise; } catch { return otherwise; }
  },
  set: (key, value) => {
    try { where().setItem(key, JSON.stringify(value)); } catch { /* a private window keeps nothing */ }
  },
});

export const kept = store(() => localStorage);

export const unsent = store(() => sessionStorage); // over a reload, in this tab
