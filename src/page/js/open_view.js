// What is left to do, parts and notes; and the end of the job.
import { el, put, whenChanged } from "./dom.js";
import { card, form, numberField, textField } from "./form.js";
import { setting } from "./settings.js";
import { t, timeOfDay, told } from "./words.js";

export function openCard({ outbox }) {
  const list = el("ul", { class: "plain" });
  const draw = whenChanged((items) => put(list, items.length === 0 ? el("li", {}, t("nothing_open")) : items.map((one) => row(one, outbox))));
  const more = form([textField("item", t("item_name")), textField("text", t("what_to_do"))], t("add_item"), (found) => {
    if (!found.item) return t("nothing_filled_in");
    outbox.enter("open_item", found);
    return undefined;
  });
  return { element: card("open", t("open_title"), list, el("details", {}, el("summary", {}, t("add_item")), more)), draw: (model) => draw(model.summary.open_items ?? []) };
}

/// "level check: not done" below the name "level check" says it twice. What is known is the whole, so the name goes last.
function withoutName(item, text) {
  const name = `${told(item)}: `;
  const words = told(text);
  return words.startsWith(name) ? words.slice(name.length) : words;
}

function row(one, outbox) {
  const state = one.state === "open" ? t("item_open") : t(one.state === "done" ? "item_done" : "item_signed_over", { name: one.by ?? t("nobody_named") });
  const head = el("p", {}, el("b", {}, told(one.item)), ` · ${withoutName(one.item, one.text)} `, el("span", { class: "state" }, [state, one.answer, one.missing && told(one.missing)].filter(Boolean).join(" · ")));
  if (one.state !== "open") return el("li", {}, head);
  const waste = one.item === "waste" ? [numberField("litres", t("litres"), { low: 0, high: 200 })] : [];
  const settle = (entry, key, needsName) => el("details", {}, el("summary", {}, t(key)), form([...waste, textField("text", t("remark")), textField("by", t("your_name"), { value: setting("name") })], t(key), (found) => {
    if (needsName && !found.by) return t("say_name");
    outbox.enter(entry, { item: one.item, ...found });
    return undefined;
  }));
  return el("li", {}, head, el("div", { class: "row" }, settle("open_item_done", "done", false), settle("open_item_signed_over", "sign_over", true)));
}

export function notesCard({ outbox }) {
  const list = el("ul", { class: "points" });
  const note = form([textField("text", t("note"))], t("write_down"), (found) => {
    if (!found.text) return t("nothing_filled_in");
    outbox.enter("note", found);
    return undefined;
  });
  const part = form([textField("part", t("part_name")), textField("number", t("part_number")), numberField("count", t("part_count"), { low: 0, high: 1000 })], t("write_down"), (found) => {
    if (!found.part) return t("nothing_filled_in");
    outbox.enter("part_used", found);
    return undefined;
  });
  const draw = whenChanged((notes, parts) => put(list, notes.map((one) => el("li", {}, `${one.t ? `${timeOfDay(one.t)} ` : ""}${one.text}`)), parts.map((one) => el("li", {}, `${one.count ?? 1} × ${one.part} ${one.number ?? ""}`))));
  return { element: card("notes", t("notes_title"), list, el("h3", {}, t("note")), note, el("h3", {}, t("part_used")), part), draw: (model) => draw(model.summary.notes ?? [], model.summary.parts ?? []) };
}

/// "level check: level check: not done"
const onlyOnce = (text) => text.replace(/^(.+?): \1: /u, "$1: ");

export function closingCard(context) {
  const said = el("p", { role: "status" });
  const missing = el("ul", { class: "points" });
  const name = textField("sign_over", t("who_takes_over"), { value: setting("name") });
  const drawMissing = whenChanged((list) => {
    name.element.hidden = list.length === 0;
    put(missing, list.map((one) => el("li", {}, told(onlyOnce(one)))));
  });
  const close = form([{ ...name, stays: true }], t("close_job"), (found) => {
    const open = context.model().summary.missing ?? [];
    if (open.length > 0 && !found.sign_over) return t("say_who_takes_over");
    if (!confirm(t("really_close"))) return undefined;
    end(open.length > 0 ? found.sign_over : undefined);
    return undefined;
  });
  const end = async (signOver) => {
    try {
      const answer = await fetch(`/api/jobs?job=${context.model().state.job}`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ action: "close", ...(signOver ? { sign_over: signOver } : {}) }) });
      const told_ = await answer.json();
      if (!answer.ok) {
        said.textContent = `${told(told_.error)}. ${told(told_.way_out)}`;
        return;
      }
      said.textContent = t("job_closed", { file: told_.file, fingerprint: told_.fingerprint });
      context.onClosed(told_);
    } catch {
      said.textContent = t("no_contact");
    }
  };
  return { element: card("closing", t("closing_title"), missing, close, said), draw: (model) => drawMissing(model.summary.missing ?? []) };
}
