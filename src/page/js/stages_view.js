// The stages of the work: begin, end, leave out.
import { el, put, whenChanged } from "./dom.js";
import { card } from "./form.js";
import { t, timeOfDay } from "./words.js";

export const stageName = (stage) => t(`stage_${stage.replaceAll(/[ -]/g, "_")}`);

export function stagesCard({ outbox }) {
  const list = el("ul", { class: "plain" });
  const draw = whenChanged((stages) => put(list, stages.map((one) => row(one, outbox))));
  return { element: card("stages", t("stages_title"), list), draw: (model) => draw(model.summary.stages ?? []) };
}

function row(one, outbox) {
  const name = stageName(one.stage);
  const last = one.visits?.at(-1);
  const time = last?.ended_t ?? last?.begun_t;
  const said = `${t(`stage_state_${one.state.replaceAll(" ", "_")}`)}${time ? ` ${timeOfDay(time)}` : ""}${one.why ? `: ${one.why}` : ""}`;
  const act = (entry, key, more = {}) => el("button", { type: "button", "aria-label": `${t(key)}: ${name}`, onclick: () => outbox.enter(entry, { stage: one.stage, ...more }) }, t(key));
  const leave = el("details", {}, el("summary", {}, t("leave_out")), el("form", {
    class: "row", onsubmit: (event) => {
      event.preventDefault();
      const why = event.target.elements.why.value.trim();
      outbox.enter("stage_skipped", { stage: one.stage, ...(why ? { why } : {}) });
    },
  }, el("label", {}, t("why"), " ", el("input", { name: "why", maxlength: 200 })), el("button", { type: "submit" }, t("leave_out"))));
  return el("li", { class: "stage" }, el("span", { class: "stage-name" }, el("b", {}, name), " ", el("span", { class: "state" }, said)),
    one.state === "open" ? act("stage_ended", "end_stage") : act("stage_begun", one.state === "done" ? "begin_again" : "begin_stage"), one.state === "not done" && leave);
}
