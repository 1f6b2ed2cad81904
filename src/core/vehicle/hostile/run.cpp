#include "core/vehicle/hostile/run.h"

#include "core/item/item_text.h"

namespace sumplog::hostile {
namespace {

Finding not_run(const Fault& fault, TimePoint at) {
  return {"the job runs to its end", at, fault.text()};
}

std::optional<Finding> run(Outcome& outcome, const std::vector<DecoderText>& texts,
                           const MemoryWatch& memory) {
  const auto record = [&](const Item& item) { return write_to(outcome.text, item); };
  std::vector<Item> header;
  for (const Item& item : opening_of(outcome.plan, texts)) {
    auto written = record(item);
    if (!written) return not_run(written.error(), outcome.plan.scenario.start);
    header.push_back(std::move(*written));
  }
  Job job(outcome.plan, std::move(header), record, memory);
  const auto done = job.run();
  auto end = record(End{job.now()});
  if (end) job.on_closed(*end);
  outcome.trace = std::move(job.trace());
  if (!done) return not_run(done.error(), job.now());
  if (!end) return not_run(end.error(), job.now());
  return judge(outcome.plan, outcome.trace, replay(outcome.text));
}

}  // namespace

Result<Item> write_to(std::string& text, const Item& item) {
  ItemLineParser parser;
  std::optional<Item> back;
  for (const std::string& line : item_lines(item)) {
    text += line + '\n';
    ParsedLine parsed = parser.on_line(line);
    if (!parsed.problem.empty()) return fault(parsed.problem, line);
    if (parsed.item) back = std::move(parsed.item);
  }
  if (!back) return fault("an item does not read back");
  return std::move(*back);
}

Outcome run_seed(std::uint64_t seed, const std::vector<DecoderText>& texts, const MemoryWatch& memory) {
  Outcome outcome;
  outcome.plan = make_plan(seed);
  outcome.text = std::string(kJobFileMagic) + '\n';
  outcome.finding = run(outcome, texts, memory);
  return outcome;
}

}  // namespace sumplog::hostile
