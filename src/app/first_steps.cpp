#include "app/first_steps.h"

#include <boost/asio/post.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <csignal>
#include <filesystem>
#include <optional>
#include <string_view>
#include <utility>

#include "app/daemon.h"
#include "app/interrupted_job.h"
#include "app/job_opening.h"
#include "app/job_place.h"
#include "app/live_page.h"
#include "app/live_run.h"
#include "app/page_routes.h"
#include "app/program_log.h"
#include "app/rate_setting.h"
#include "app/service_watch.h"
#include "app/setup_desk.h"
#include "io/can_link.h"
#include "io/http_status.h"
#include "io/job_file.h"
#include "io/service_notice.h"
#include "io/serving_note.h"

namespace sumplog {
namespace {

namespace asio = boost::asio;
namespace fs = std::filesystem;

constexpr auto kTryAgain = std::chrono::seconds(1);  // own choice: a person waits for it
constexpr std::string_view kLookPrefix = ".look-";   // hidden: no list of jobs shows it

/// What a look left behind that was killed: nobody holds it, and nobody will look for it.
void remove_old_looks(const std::string& folder) {
  std::error_code error;
  for (fs::directory_iterator at(folder, error), end; !error && at != end; at.increment(error)) {
    const std::string path = at->path().string();
    if (!at->path().filename().string().starts_with(kLookPrefix) || JobFile::is_held(path)) continue;
    remove_serving_note(path);
    std::error_code ignored;
    fs::remove(path, ignored);
  }
}

class FirstSteps {
 public:
  FirstSteps(const CommonOptions& common, const ServeOptions& options, const OpenPort& open_port)
      : common_(common),
        options_(options),
        open_port_(open_port),
        desk_(common.settings, [this] { on_choice(); }),
        signals_(loop_, SIGINT, SIGTERM, SIGHUP),
        timer_(loop_) {}

  ExitStatus run() {
    const auto address = page_address(common_.settings);
    if (!address) return report(address.error(), ExitStatus::wrong);
    if (!*address) return report(no_page(), ExitStatus::wrong);
    address_ = **address;
    auto port = adapter();
    // A port that is taken now may be free later: whoever keeps this program running tries again.
    if (!port) return report(port.error(), ExitStatus::failed);
    if (!*port) return stopped(ExitStatus::done);
    common_.settings.set("interface", desk_.interface());
    if (auto left = take_interrupted_job(common_.settings)) {
      log_warning("going on with the job that was interrupted: " + *left);
      options_.job = std::move(*left);
    }
    if (common_.settings.value("decoder") || !options_.job.empty()) return job(loop_, std::move(*port));
    if (const auto status = look(std::move(*port)); status != ExitStatus::done || !desk_.job())
      return stopped(status);
    common_.settings.set("decoder", desk_.job()->decoder);
    options_.confirmed_by = desk_.job()->by;
    // A loop of its own: what the look has left in the other one belongs to nobody any more.
    asio::io_context loop{1};
    auto again = open_port_(loop, common_.settings);
    if (!again) return report(again.error(), ExitStatus::failed);
    return job(loop, std::move(*again));
  }

 private:
  static ExitStatus stopped(ExitStatus status) {
    ServiceNotice::from_environment().stopping();
    return status;
  }

  [[nodiscard]] Fault no_page() const {
    if (desk_.interface().empty())
      return {"no interface is named", "--interface",
              "for example: sumplog serve --interface can0; or let the page ask, with --listen"};
    return {"the first steps are taken on the page, and it is off", common_.settings.place("listen"),
            "name an address, or leave --first-steps out"};
  }

  /// out  nothing: the program was stopped
  /// err  the page cannot be served, and without it there is nobody to ask
  Result<std::unique_ptr<LivePort>> adapter() {
    auto page = open_needed_page(loop_, common_.settings, address_);
    if (!page) return tl::unexpected(page.error());
    WebServer::Owner owner;
    owner.no_token_page = no_token_page;
    owner.on_request = [this](WebRequest request, const WebReply& reply) {
      if (request.path == "/api/setup")
        desk_.on_request(request, reply);
      else if (auto file = page_answer(request))
        reply(std::move(*file));
      else
        reply(web_fault(http_status::kNotFound,
                        Fault{"there is no job yet", request.path, "choose the adapter on the page"}));
    };
    owner.events_after = [](std::uint64_t, std::size_t) { return std::optional<EventBlock>(); };
    owner.first_event = [](const WebRequest&) { return std::uint64_t{0}; };
    (*page)->begin(std::move(owner));
    log_info("page: " + (*page)->url());
    chosen_ = [this] { asio::post(loop_, [this] { try_adapter(); }); };
    signals_.async_wait([this](boost::system::error_code error, int) {
      if (!error) loop_.stop();
    });
    watch_.emplace(loop_, "waiting for an adapter");
    try_adapter();
    loop_.run();
    watch_.reset();
    signals_.cancel();
    timer_.cancel();
    page->reset();
    loop_.restart();
    loop_.poll();  // what was cancelled says so
    loop_.restart();
    chosen_ = nullptr;
    return std::move(port_);
  }

  void try_adapter() {
    if (port_) return;
    // The one that was found may be pulled, and another one plugged in.
    if (desk_.interface() == found_ && interface_state(found_) == LinkState::gone) desk_.take_adapter("");
    if (desk_.interface().empty())
      if (const auto found = can_interfaces(); found.size() == 1) desk_.take_adapter(found_ = found.front());
    if (desk_.interface().empty()) {
      say(can_interfaces().empty()
              ? "No CAN adapter is found. Plug it in; for one with a serial port choose or type its path, "
                "for example /dev/ttyACM0."
              : "More than one CAN interface is there: choose the one that is plugged into the car.");
    } else {
      ProgramSettings settings = common_.settings;
      settings.set("interface", desk_.interface());
      auto port = open_port_(loop_, settings);
      if (port) {
        port_ = std::move(*port);
        loop_.stop();
        return;
      }
      say(port.error().text());
    }
    timer_.expires_after(kTryAgain);
    timer_.async_wait([this](boost::system::error_code error) {
      if (!error) try_adapter();
    });
  }

  void say(const std::string& help) {
    desk_.show(SetupDesk::Stage::adapter, help);
    if (std::exchange(said_, help) == help) return;
    log_info(help);
    if (watch_) watch_->status(help);
  }

  /// A job that nobody keeps: who is there, and is there a fluid temperature?
  ExitStatus look(std::unique_ptr<LivePort> port) {
    auto time = JobTime::start();
    if (!time) return report(time.error(), ExitStatus::failed);
    auto asking = asker_settings(common_.settings, port->bus());
    if (!asking) return report(asking.error(), ExitStatus::wrong);
    const std::string id = random_job_id();
    auto opening = opening_items(common_.settings, id, time->now());
    if (!opening) return report(opening.error(), ExitStatus::wrong);
    remove_old_looks(data_folder(common_.settings));
    const fs::path path = fs::path(data_folder(common_.settings)) / (std::string(kLookPrefix) + id + ".log");
    auto created = JobFile::create(path.string(), *opening);
    if (!created) return report(created.error(), ExitStatus::failed);
    auto page = open_needed_page(loop_, common_.settings, address_);
    if (!page) return report(page.error(), ExitStatus::failed);
    desk_.show(SetupDesk::Stage::car, "");
    ExitStatus status{};
    {
      const std::vector<Item> header = created->header;
      Daemon daemon(loop_, std::move(port), std::move(*time),
                    HeldJob{std::move(created->file), std::move(created->header)},
                    DaemonOptions{false, *asking, common_.json, nullptr, &desk_});
      chosen_ = [&daemon, this] { asio::post(loop_, [&daemon] { daemon.leave(); }); };
      daemon.begin_new(header);
      daemon.serve(std::move(*page));
      status = daemon.run(false, std::nullopt);
      chosen_ = nullptr;
    }
    std::error_code ignored;
    fs::remove(path, ignored);
    return status;
  }

  ExitStatus job(asio::io_context& loop, std::unique_ptr<LivePort> port) {
    auto asking = asker_settings(common_.settings, port->bus());
    if (!asking) return report(asking.error(), ExitStatus::wrong);
    return run_live(common_, loop, std::move(port), options_, *asking);
  }

  void on_choice() {
    if (chosen_) chosen_();
  }

  CommonOptions common_;
  ServeOptions options_;
  const OpenPort& open_port_;
  std::function<void()> chosen_;
  SetupDesk desk_;
  asio::io_context loop_{1};
  asio::signal_set signals_;
  asio::steady_timer timer_;
  std::optional<ServiceWatch> watch_;
  WebAddress address_;  ///< of the page
  std::unique_ptr<LivePort> port_;
  std::string said_;
  std::string found_;  ///< the interface that nobody had to choose
};

}  // namespace

ExitStatus run_first_steps(const CommonOptions& common, const ServeOptions& options,
                           const OpenPort& open_port) {
  return FirstSteps(common, options, open_port).run();
}

}  // namespace sumplog
