// Elements from data. Text goes in as text: nothing that the program or a person wrote is ever read as markup.
export function byId(id) {
  return document.getElementById(id);
}

export function el(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked" || name === "disabled") element[name] = value;
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  put(element, ...children);
  return element;
}

/// Replaces the content.
export function put(element, ...children) {
  element.replaceChildren(...children.flat(3).filter((one) => one !== undefined && one !== null && one !== false));
}

/// Writes only what changed: a live region speaks, and a selection stays, only then.
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

export function show(element, visible) {
  if (element.hidden === visible) element.hidden = !visible;
}

/// Calls `draw` only when what it shows has changed: fields that a person is filling in are left alone.
export function whenChanged(draw) {
  let last;
  return (...values) => {
    const now = JSON.stringify(values);
    if (now === last) return;
    last = now;
    draw(...values);
  };
}
