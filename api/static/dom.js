// Writing onto the sheet. Nothing is touched that didn't change: a button stays under the finger, a reader isn't spoken
// to again. Words from the server only ever become text.

export const at = (id) => document.getElementById(id);

export function write(id, words) {
  const place = at(id);
  if (place.textContent !== words) place.textContent = words;
}

export function show(id, visible) {
  const place = at(id);
  if (place.hidden === visible) place.hidden = !visible;
}

export function make(tag, className, ...content) {
  const made = document.createElement(tag);
  if (className) made.className = className;
  made.append(...content);
  return made;
}

const drawn = new Map();

export function redraw(id, from, draw) {
  const key = JSON.stringify(from);
  if (drawn.get(id) === key) return;
  drawn.set(id, key);
  at(id).replaceChildren(...draw());
}
