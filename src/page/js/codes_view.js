// Fault codes before and after, and what differs.
import { el, put, whenChanged } from "./dom.js";
import { card, table } from "./form.js";
import { t, timeOfDay, told } from "./words.js";

export function codesCard({ outbox }) {
  const buttons = el("p", { class: "row" }, ["before", "after", "during"].map((scan) => el("button", { type: "button", onclick: () => outbox.enter("scan", { scan }) }, t(`scan_${scan}`))));
  const body = el("div");
  const draw = whenChanged((before, after, compared, plugOut) => put(body,
    plugOut && el("p", { class: "wrong" }, t("no_scan_plug_out")), scanPart("before", before), scanPart("after", after), comparedPart(compared)));
  return { element: card("codes", t("codes_title"), buttons, el("p", { class: "hint" }, t("never_cleared")), body), draw: (model) => draw(model.summary.codes_before, model.summary.codes_after, model.summary.compared, model.plug?.out === true) };
}

function scanPart(which, scan) {
  const title = el("h3", {}, t(`codes_${which}`));
  if (!scan) return [title, el("p", { class: "state" }, t("not_read"))];
  const codes = scan.codes ?? [];
  return [title, el("p", { class: "state" }, `${scan.ended_t ? `${timeOfDay(scan.ended_t)} · ` : ""}${t(scan.complete ? "scan_complete" : "scan_incomplete")}${scan.why?.length ? `: ${scan.why.map(told).join("; ")}` : ""}`),
    codes.length === 0 ? el("p", {}, t("no_codes_told")) : table([t("unit"), t("code"), t("status"), t("meaning")], codes.map((one) =>
      el("tr", {}, el("td", {}, one.ecu), el("td", {}, one.code), el("td", {}, (one.status ?? []).map(told).join(", ")), el("td", {}, [told(one.text ?? ""), one.class && `(${told(one.class)})`].filter(Boolean).join(" ")))), t(`codes_${which}`)),
    el("details", {}, el("summary", {}, t("who_answered")), el("p", {}, `${t("answered")}: ${(scan.answered ?? []).join(", ") || "–"}`), el("p", {}, `${t("silent")}: ${(scan.silent ?? []).join(", ") || "–"}`),
      el("p", {}, `${t("not_asked")}:`), el("ul", { class: "points" }, (scan.not_asked ?? []).map((one) => el("li", {}, told(one)))))];
}

function comparedPart(compared) {
  if (!compared) return undefined;
  const words = (list) => (list ?? []).map(told).join(", ") || "–";
  return [el("h3", {}, t("codes_compared")), el("p", { class: "state" }, t(compared.complete ? "compared_complete" : "compared_incomplete")),
    compared.codes.length === 0 ? el("p", {}, t("no_codes_told")) : table([t("unit"), t("code"), t("change"), t("before"), t("after")], compared.codes.map((one) =>
      el("tr", {}, el("td", {}, one.ecu), el("td", {}, one.code ?? "–"), el("td", {}, t(`change_${one.change.replaceAll(" ", "_")}`)), el("td", {}, words(one.before)), el("td", {}, words(one.after)))), t("codes_compared")),
    compared.cleared?.length && el("ul", { class: "points" }, compared.cleared.map((one) => el("li", {}, told(one))))];
}
