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
#include "csv/reader.hpp"
#include "fhir/reader.hpp"

namespace footbridge::app {
namespace {

constexpr std::size_t kSlice = 64;  ///< assessments of one submission that are stored together

Instant clockNow() {
  return {std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now()), 0};
}

/// A place without the name of what was handed in.
std::string placeOf(std::string_view place, std::string_view name) {
  return std::string(place.starts_with(name) ? place.substr(name.size()) : place);
}

/// An assessment as it came, and the moment at which it was judged.
struct Source {
  const std::string& bytes;
  Instant now;
};

InputForm inputFormOf(Submission::Form form) {
  if (form == Submission::Form::Resources) return InputForm::Resources;
  return form == Submission::Form::Table ? InputForm::Tables : InputForm::Texts;
}

/// What one thread needs to convert.
class Converter {
 public:
  explicit Converter(const DeskPlan& plan)
      : plan_(plan), names_(plan.tables), pipeline_(plan.tables, clockNow()), base_(plan.bundle) {
    for (const config::Destination& to : plan.to) {
      makers_.emplace_back(plan.tables, bundleOptions(base_, "", {}, to, plan.tables), to.name);
    }
  }

  /// Hands the slices over one by one; the last one says so.
  void convert(Submission& submission, const std::function<void(Slice)>& give) {
    Slice slice;
    slice.ticket = std::make_unique<Ticket>();
    slice.ticket->settled = std::move(submission.settled);
    Ticket& ticket = *slice.ticket;
    Repeats repeats(plan_.tables);
    SetAside aside(submission.setAside.empty() ? plan_.setAside : submission.setAside,
                   inputFormOf(submission.form));
    const auto take = [&](const intake::Text& text) {
      const Instant now = clockNow();
      Outcome outcome = pipeline_.run(text, now);
      const std::size_t remarks = outcome.issues.size();
      repeats.note(text, outcome);
      const bool plain = standsAlone(text, outcome.assessment) && outcome.issues.size() == remarks;
      if (text.original) intake::relocate(outcome.issues, *text.original, plan_.tables);
      if (outcome.refused() && submission.aim == Submission::Aim::Store) {
        append(slice.failures, aside.take(text, outcome));
      }
      Source source{text.bytes, now};
      add(slice, outcome, submission, plain ? &source : nullptr);
      if (slice.items.size() < kSlice) return;
      Slice full = std::exchange(slice, Slice{});
      slice.ticket = std::move(full.ticket);
      full.open = &ticket;
      give(std::move(full));
    };
    walk(submission, take);
    append(slice.failures, aside.finish());
    slice.open = &ticket;
    give(std::move(slice));
  }

 private:
  void walk(const Submission& submission,
            const std::function<void(const intake::Text&)>& take) const {
    std::istringstream in(submission.body);
    if (submission.form == Submission::Form::Table) {
      csv::Reader reader(in, submission.name, *submission.map, plan_.tables);
      while (const std::optional<intake::Text> text = reader.next()) take(*text);
      return;
    }
    const bool lines = submission.form == Submission::Form::Lines;
    intake::Texts texts(in, submission.name,
                        lines ? intake::Layout::Lines : intake::Layout::Detect);
    while (std::optional<intake::Text> text = texts.next()) {
      if (submission.form != Submission::Form::Resources) {
        take(*text);
        continue;
      }
      for (const intake::Text& each : fhir::textsOf(*std::move(text), names_)) take(each);
    }
  }

  static bool withdraws(const Assessment& a) {
    return a.replaces.has_value() || a.status == Status::EnteredInError;
  }

  /// `source` where the text may be stored in place of the bundle.
  outbox::Entry make(EntryMaker& maker, const Outcome& outcome, const Source* source) {
    if (source == nullptr) return maker.make(outcome);
    return maker.make(outcome, recipeOf(source->bytes, source->now, maker.options(), plan_.tables));
  }

  void add(Slice& slice, const Outcome& outcome, const Submission& submission,
           const Source* source) {
    const Assessment& a = outcome.assessment;
    Item item{placeOf(outcome.name, submission.name), a.identifier.system, a.identifier.value,
              a.revision, outcome.issues};
    if (outcome.refused()) {
      slice.items.push_back(std::move(item));
      return;
    }
    item.fate = submission.aim == Submission::Aim::Try ? Fate::Tried : Fate::Stored;
    for (std::size_t i = 0; i < makers_.size(); ++i) {
      if (submission.aim == Submission::Aim::Try) {
        slice.bundles += makers_[i].make(outcome).bundle + "\n";
        break;
      }
      slice.entries.push_back(make(makers_[i], outcome, source));
      slice.owners.push_back(
          {slice.items.size(), i, withdraws(a) ? std::optional(a) : std::nullopt});
    }
    slice.items.push_back(std::move(item));
  }

  const DeskPlan& plan_;
  fhir::Names names_;
  Pipeline pipeline_;
  package::BundleOptions base_;
  std::deque<EntryMaker> makers_;
};

}  // namespace

std::string_view word(Fate fate) {
  static constexpr std::array<std::string_view, 7> kWords{"stored",  "known", "held",  "refused",
                                                          "differs", "tried", "failed"};
  return kWords[static_cast<std::size_t>(fate)];
}

struct Desk::State {
  DeskPlan plan;
  DeskWriter writer;

  std::mutex mutex;
  std::condition_variable_any wake;
  std::deque<std::function<void(Converter&)>> work;
  bool ending = false;
  std::vector<std::jthread> workers;

  State(DeskPlan how, outbox::Outbox& outbox) : plan(std::move(how)), writer(plan, outbox) {
    for (std::size_t i = 0; i < plan.workers; ++i) {
      workers.emplace_back([this] { convert(); });
    }
  }

  void convert() {
    Converter converter(plan);
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
  return state_->push([this, given = std::move(submission)](Converter& converter) mutable {
    converter.convert(given, [this](Slice slice) { state_->writer.give(std::move(slice)); });
  });
}

bool Desk::run(std::function<void()> work) {
  return state_->push([work = std::move(work)](Converter&) { work(); });
}

std::size_t Desk::waiting() const {
  const std::scoped_lock lock(state_->mutex);
  return state_->work.size();
}

}  // namespace footbridge::app
