// What a person chose for this browser; kept in localStorage, and usable without it.
const kept = "sumplog.settings";
const usual = { unit: "C", language: "", look: "", key: " ", name: "", sound: false };

function read() {
  try {
    return { ...usual, ...JSON.parse(localStorage.getItem(kept) ?? "{}") };
  } catch {
    return { ...usual };
  }
}

const values = read();
const listeners = [];

export function setting(name) {
  return values[name];
}

export function choose(name, value) {
  values[name] = value;
  try {
    localStorage.setItem(kept, JSON.stringify(values));
  } catch {
    // A browser without storage forgets it; the page works on.
  }
  for (const listener of listeners) listener(name);
}

export function onChoice(listener) {
  listeners.push(listener);
}
