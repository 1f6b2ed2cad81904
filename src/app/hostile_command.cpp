#include <charconv>
#include <iostream>
#include <optional>
#include <utility>

#include "app/commands.h"
#include "app/job_opening.h"
#include "app/program_log.h"
#include "core/item/json_line.h"
#include "core/vehicle/hostile/run.h"
#include "io/direct_recorder.h"
#include "io/verify.h"

namespace sumplog {
namespace {

using hostile::Outcome;

struct Seeds {
  std::uint64_t first = 0;
  std::uint64_t last = 0;
};

/// "17" or "1..2000".
std::optional<Seeds> parse_seeds(std::string_view text) {
  const std::size_t dots = text.find("..");
  const auto number = [](std::string_view digits) -> std::optional<std::uint64_t> {
    std::uint64_t value = 0;
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    if (error != std::errc{} || end != digits.data() + digits.size()) return std::nullopt;
    return value;
  };
  const auto first = number(text.substr(0, dots));
  const auto last = dots == std::string_view::npos ? first : number(text.substr(dots + 2));
  if (!first || !last || *last < *first) return std::nullopt;
  return Seeds{*first, *last};
}

/// The decoders that every hostile job uses, so that a seed is the same job wherever it runs.
Result<std::vector<DecoderText>> decoder_texts() {
  std::vector<DecoderText> texts;
  for (const char* const id : {"obd-generic", "demo-9", "j1939-transmission"}) {
    auto loaded = load_decoder(id);
    if (!loaded) return tl::unexpected(loaded.error());
    texts.insert(texts.end(), loaded->begin(), loaded->end());
  }
  return texts;
}

/// The same job into a job file, which is then verified and replayed.
Result<Outcome> run_into_file(std::uint64_t seed, const std::vector<DecoderText>& texts,
                              const std::string& path) {
  Outcome outcome;
  outcome.plan = hostile::make_plan(seed);
  auto created = JobFile::create(path, hostile::opening_of(outcome.plan, texts));
  if (!created) return tl::unexpected(created.error());
  DirectRecorder recorder(std::move(created->file));
  hostile::Job job(outcome.plan, std::move(created->header),
                   [&](const Item& item) { return recorder.record(item); });
  if (auto done = job.run(); !done) return tl::unexpected(done.error());
  auto end = recorder.close(job.now());
  if (!end) return tl::unexpected(end.error());
  job.on_closed(*end);
  outcome.trace = std::move(job.trace());
  constexpr std::size_t kLargestJobFile = std::size_t{1} << 30;
  auto text = read_text_file(path, kLargestJobFile);
  if (!text) return tl::unexpected(text.error());
  outcome.text = std::move(*text);
  auto verified = verify(path);
  if (!verified) return tl::unexpected(verified.error());
  outcome.finding = verified->state == SealState::closed
                        ? hostile::judge(outcome.plan, outcome.trace, hostile::replay(outcome.text))
                        : hostile::Finding{"every job file verifies", job.now(), verified->text()};
  return outcome;
}

void print(const Outcome& outcome, bool json) {
  if (json) {
    JsonLine line;
    line.integer("seed", static_cast<std::int64_t>(outcome.plan.seed));
    line.integer("journal_lines", static_cast<std::int64_t>(outcome.trace.journal.size()));
    line.integer("sent", static_cast<std::int64_t>(outcome.trace.sent.size()));
    if (outcome.finding)
      line.time("broken_at", outcome.finding->at)
          .text("rule", outcome.finding->rule)
          .text("what", outcome.finding->what);
    std::cout << line.take() << '\n';
  } else if (outcome.finding) {
    std::cout << report_of(outcome.plan, outcome.trace, *outcome.finding);
  } else {
    std::cout << text_of(outcome.plan) << ": every rule holds; " << outcome.trace.sent.size()
              << " frames sent, " << outcome.trace.journal.size() << " journal lines\n";
  }
}

}  // namespace

ExitStatus run_hostile(const CommonOptions& common, const SimulateOptions& options) {
  start_log(common.verbose);
  const auto seeds = parse_seeds(options.hostile);
  if (!seeds)
    return report(
        Fault{"'" + options.hostile + "' is neither a seed nor FIRST..LAST", "--hostile", "for example 17"},
        ExitStatus::wrong);
  if (!options.to.empty() && seeds->first != seeds->last)
    return report(Fault{"one file holds one job", "--to", "give one seed"}, ExitStatus::wrong);
  auto texts = decoder_texts();
  if (!texts) return report(texts.error(), ExitStatus::wrong);
  std::uint64_t broken = 0;
  for (std::uint64_t seed = seeds->first;; ++seed) {
    auto outcome = options.to.empty() ? Result<Outcome>(hostile::run_seed(seed, *texts))
                                      : run_into_file(seed, *texts, options.to);
    if (!outcome) return report(outcome.error(), ExitStatus::failed);
    if (outcome->finding) ++broken;
    print(*outcome, common.json);
    if (seed == seeds->last) break;
  }
  return broken == 0 ? ExitStatus::done : ExitStatus::failed;
}

}  // namespace sumplog
