// Small helpers: find, make, change only what changed.  Text goes in as text, never as markup.

export const $ = (id) => document.getElementById(id);

export function el(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value != null) made.setAttribute(name, value);
  }
  made.append(...children.flat().filter((child) => child != null && child !== false));
  return made;
}

export function drawn(tag, attributes = {}, ...children) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

export function say(id, text) {
  const place = $(id);
  if (place.textContent !== text) place.textContent = text;
}

export function show(id, visible) {
  $(id).hidden = !visible;
}

export function toast(text) {
  say("toast", text);
  clearTimeout(toast.timer);
  toast.timer = setTimeout(() => say("toast", ""), 6000);
}

export const kept = {
  get: (key, otherwise) => {
    try { return JSON.parse(localStorage.getItem(key)) ?? otherwise; } catch { return otherwise; }
  },
  set: (key, value) => {
    try { localStorage.setItem(key, JSON.stringify(value)); } catch { /* a private window keeps nothing */ }
  },
};
