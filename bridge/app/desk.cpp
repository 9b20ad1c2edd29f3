#include "app/desk.hpp"

#include <algorithm>
#include <array>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <sstream>
#include <thread>

#include "app/deployment.hpp"
#include "app/desk_writer.hpp"
#include "app/recipe.hpp"
#include "app/repeats.hpp"
#include "app/set_aside.hpp"
#include "core/text.hpp"
#include "csv/reader.hpp"
#include "fhir/reader.hpp"
#include "hl7/settings.hpp"

namespace footbridge::app {
namespace {

constexpr std::size_t kSlice = 64;  ///< assessments of one submission that are stored together

/// The name that inputs go by inside; places are told without it.
constexpr std::string_view kInput = "submission";

std::string placeOf(std::string_view name) {
  return std::string(trimmed(name.starts_with(kInput) ? name.substr(kInput.size()) : name));
}

/// An assessment as it came, and the moment at which it was judged.
struct Source {
  const std::string& bytes;
  Instant now;
};

/// One object on one line: what takes texts apart would read it a second time to find that out.
bool isOneLine(const Submission& submission) {
  const std::string_view body = trimmed(submission.body);
  return submission.form == Submission::Form::Detect && body.starts_with('{') &&
         body.size() <= intake::Texts::kLineLimit && body.find('\n') == std::string_view::npos;
}

InputForm inputFormOf(Submission::Form form) {
  using Form = Submission::Form;
  if (form == Form::Resources) return InputForm::Resources;
  if (form == Form::Message || form == Form::Messages) return InputForm::Messages;
  return form == Form::Table ? InputForm::Tables : InputForm::Texts;
}

/// What one thread needs to convert.
class Converter {
 public:
  Converter(const DeskPlan& plan, outbox::Outbox& outbox)
      : plan_(plan),
        outbox_(outbox),
        sealer_(outbox),
        pipeline_(plan.tables, clockNow()),
        base_(plan.bundle) {
    for (const config::Destination& to : plan.to) {
      makers_.emplace_back(plan.tables, bundleOptions(base_, "", {}, to, plan.tables), to.name);
      writers_.emplace_back(plan.tables, makers_.back().options());
    }
  }

  /// Hands the slices over one by one; the last one says so.
  void convert(Submission& submission, const std::function<void(Slice)>& give) {
    Slice slice;
    slice.ticket = std::make_unique<Ticket>();
    slice.ticket->settled = std::move(submission.settled);
    Ticket& ticket = *slice.ticket;
    Repeats repeats(plan_.tables);
    SetAside aside(plan_.setAside, inputFormOf(submission.form));
    std::size_t taken = 0;
    std::size_t refused = 0;
    const auto take = [&](const intake::Text& text) {
      const bool tried = submission.aim == Submission::Aim::Try;
      if (tried && ++taken > kMostTried) {
        ticket.so.tooMany = true;
        return;
      }
      const Instant now = clockNow();
      Outcome outcome = pipeline_.judge(text, now);
      const std::size_t remarks = outcome.issues.size();
      repeats.note(text, outcome);
      const bool plain = standsAlone(text, outcome.assessment) && outcome.issues.size() == remarks;
      // Of what is stored as it came, nobody looks at grades before its bundle is made.
      if (!plain || tried) pipeline_.complete(outcome);
      if (text.original) intake::relocate(outcome.issues, *text.original, plan_.tables);
      const bool listed = !outcome.refused() || ++refused <= kMostRefused;
      if (outcome.refused() && keeps(submission, listed)) {
        append(slice.failures, aside.take(text, outcome));
      }
      if (!listed) {
        ++ticket.so.unlisted;
        return;
      }
      Source source{text.bytes, now};
      add(slice, outcome, submission.aim, plain ? &source : nullptr);
      if (slice.items.size() < kSlice) return;
      Slice full = std::exchange(slice, Slice{});
      slice.ticket = std::move(full.ticket);
      full.open = &ticket;
      give(std::move(full));
    };
    if (submission.form == Submission::Form::Message) {
      read(submission, ticket.so, slice.failures);
      if (ticket.so.heard == outbox::Heard::Other) {
        append(slice.failures, setAsideWhole(ticket.so.message, aside));
      } else if (ticket.so.reading.supported && slice.failures.empty()) {
        for (const intake::Text& text : ticket.so.reading.texts) take(text);
        slice.message = toRemember(ticket.so);
      }
    } else {
      walk(submission, take, ticket.so.remarks);
    }
    append(slice.failures, aside.finish());
    slice.open = &ticket;
    give(std::move(slice));
  }

 private:
  /// Rows of a table are kept together, however many they are.
  static bool keeps(const Submission& submission, bool listed) {
    return submission.aim == Submission::Aim::Store &&
           submission.refused == Submission::Refused::SetAside &&
           (listed || submission.form == Submission::Form::Table);
  }

  static outbox::Message named(const hl7::Reading& reading) {
    return {reading.sender, reading.controlId, reading.digest};
  }

  /// Reads a message and looks whether its number was there before.
  void read(Submission& submission, Settled& so, Issues& failures) {
    so.message = std::move(submission.body);
    so.reading = hl7::readingOf(so.message, "message", *submission.settings, plan_.tables);
    if (!plan_.remembers || !so.reading.supported) return;
    const Result<outbox::Heard> heard = outbox_.heard(named(so.reading));
    if (heard) {
      so.heard = *heard;
    } else {
      append(failures, Issues(heard.issues()));
    }
  }

  /// A message that bears the number of another one.
  Issues setAsideWhole(const std::string& message, SetAside& aside) const {
    Outcome outcome;
    outcome.name = "message";
    outcome.issues = {issue(plan_.tables.rule("hl7-control-id-twice"), "MSH[1]-10")};
    return aside.take({"message", {}, {}, intake::Original{"message", {}, message, "message", {}}},
                      outcome);
  }

  std::optional<outbox::Message> toRemember(const Settled& so) const {
    if (!plan_.remembers || so.heard != outbox::Heard::Never) return std::nullopt;
    return named(so.reading);
  }

  void walk(const Submission& submission, const std::function<void(const intake::Text&)>& take,
            Issues& remarks) const {
    if (submission.form == Submission::Form::Messages) {
      return hl7::forEachText(submission.body, std::string(kInput), *submission.settings,
                              plan_.tables, take);
    }
    if (isOneLine(submission)) return take({std::string(kInput), submission.body, {}});
    std::istringstream in(submission.body);
    if (submission.form == Submission::Form::Table) {
      csv::Reader reader(in, std::string(kInput), *submission.map, plan_.tables);
      while (const std::optional<intake::Text> text = reader.next()) take(*text);
      remarks = reader.notices();
      return;
    }
    const bool lines = submission.form == Submission::Form::Lines;
    intake::Texts texts(in, std::string(kInput),
                        lines ? intake::Layout::Lines : intake::Layout::Detect);
    if (submission.form == Submission::Form::Resources) {
      return fhir::forEachText(texts, *submission.names, take);
    }
    while (const std::optional<intake::Text> text = texts.next()) take(*text);
  }

  static bool withdraws(const Assessment& a) {
    return a.replaces.has_value() || a.status == Status::EnteredInError;
  }

  /// Appends the bundle for the destination of that place. Gives the number of its entries.
  std::size_t write(std::string& out, const Outcome& outcome, std::size_t destination) {
    return writers_[destination].append(out, outcome.assessment, outcome.findings, outcome.issues);
  }

  /// `source` where the text may be stored in place of the bundle.
  outbox::Entry make(const Outcome& outcome, std::size_t destination, const Source* source) {
    const EntryMaker& maker = makers_[destination];
    if (source != nullptr) {
      // Nothing is added to it any more: it need not be sealed by the one thread that stores.
      outbox::Entry out =
          maker.make(outcome, recipeOf(source->bytes, source->now, maker.options(), plan_.tables));
      sealer_.seal(out);
      return out;
    }
    std::string bundle;
    const std::size_t entries = write(bundle, outcome, destination);
    outbox::Entry out = maker.make(outcome, std::move(bundle));
    out.resources = static_cast<std::int32_t>(entries);
    return out;
  }

  void add(Slice& slice, const Outcome& outcome, Submission::Aim aim, const Source* source) {
    const Assessment& a = outcome.assessment;
    Item item{placeOf(outcome.name), a.identifier.system, a.identifier.value, a.revision,
              outcome.issues};
    if (outcome.refused()) {
      slice.items.push_back(std::move(item));
      return;
    }
    item.fate = aim == Submission::Aim::Try ? Fate::Tried : Fate::Stored;
    for (std::size_t i = 0; i < makers_.size(); ++i) {
      if (aim == Submission::Aim::Try) {
        write(slice.bundles, outcome, i);
        slice.bundles += '\n';
        break;
      }
      slice.entries.push_back(make(outcome, i, source));
      slice.owners.push_back(
          {slice.items.size(), i, withdraws(a) ? std::optional(a) : std::nullopt});
    }
    slice.items.push_back(std::move(item));
  }

  const DeskPlan& plan_;
  outbox::Outbox& outbox_;
  outbox::EntrySealer sealer_;
  Pipeline pipeline_;
  package::BundleOptions base_;
  std::vector<EntryMaker> makers_;             ///< for each destination
  std::deque<package::BundleWriter> writers_;  ///< for each destination
};

}  // namespace

std::string_view word(Fate fate) {
  static constexpr std::array<std::string_view, 7> kWords{"stored",  "known", "held",  "refused",
                                                          "differs", "tried", "failed"};
  return kWords[static_cast<std::size_t>(fate)];
}

struct Desk::State {
  DeskPlan plan;
  outbox::Outbox& outbox;
  DeskWriter writer;

  std::mutex mutex;
  std::condition_variable_any wake;
  std::deque<std::function<void(Converter&)>> work;
  bool ending = false;
  std::vector<std::jthread> workers;

  State(DeskPlan how, outbox::Outbox& rows)
      : plan(std::move(how)), outbox(rows), writer(plan, rows) {
    for (std::size_t i = 0; i < plan.workers; ++i) {
      workers.emplace_back([this] { convert(); });
    }
  }

  void convert() {
    Converter converter(plan, outbox);
    while (true) {
      std::unique_lock lock(mutex);
      wake.wait(lock, [this] { return ending || !work.empty(); });
      if (work.empty()) return;
      const std::function<void(Converter&)> next = std::move(work.front());
      work.pop_front();
      lock.unlock();
      next(converter);
    }
  }

  bool push(std::function<void(Converter&)> next) {
    {
      const std::scoped_lock lock(mutex);
      if (ending || work.size() >= plan.waiting) return false;
      work.push_back(std::move(next));
    }
    wake.notify_one();
    return true;
  }
};

Desk::Desk(DeskPlan plan, outbox::Outbox& outbox)
    : state_(std::make_unique<State>(std::move(plan), outbox)) {}

Desk::~Desk() {
  {
    const std::scoped_lock lock(state_->mutex);
    state_->ending = true;
  }
  state_->wake.notify_all();
  state_->workers.clear();
  state_->writer.finish();
}

bool Desk::submit(Submission submission) {
  state_->writer.expect();
  const bool taken =
      state_->push([this, given = std::move(submission)](Converter& converter) mutable {
        converter.convert(given, [this](Slice slice) { state_->writer.give(std::move(slice)); });
      });
  if (!taken) state_->writer.expectNot();
  return taken;
}

bool Desk::run(std::function<void()> work) {
  return state_->push([work = std::move(work)](Converter&) { work(); });
}

std::size_t Desk::waiting() const {
  const std::scoped_lock lock(state_->mutex);
  return state_->work.size();
}

}  // namespace footbridge::app
