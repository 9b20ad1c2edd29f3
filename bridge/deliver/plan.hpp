#pragma once
// A visit sent in several requests, to a server that takes no transactions. What comes next
// follows from the bundle, the strategy and what the answers said so far; each request may be sent
// twice without storing anything twice. Pure: no clock, no network.

#include <optional>

#include "config/config.hpp"
#include "deliver/judge.hpp"
#include "deliver/parts.hpp"

namespace footbridge::deliver {

/// One request of a plan.
struct Call {
  std::string method = "GET";
  std::string path;  ///< "/Observation?identifier=..."
  std::string body;
  std::string ifNoneExist;  ///< header If-None-Exist, "" for none
  std::string ifMatch;      ///< header If-Match
  Repeat repeat = Repeat::Harmless;
};

/// How far a part has come.
enum class Stage : std::uint8_t {
  Look,     ///< is it there already?
  Write,    ///< store it
  Place,    ///< stored, says the server, but not where: look for it
  Compare,  ///< somebody changed it, perhaps we before a crash: read it
  Done
};

class Plan {
 public:
  /// For every strategy but Transaction. An issue if the bundle cannot be taken apart.
  static Result<Plan> make(std::string_view bundle, config::Strategy strategy);

  /// What to send now; by what is known, without changing it.
  Call next() const;

  /// Takes the answer to next(). Nothing: go on with next(). A verdict: the visit is stored (Done),
  /// or this request failed; then `stored` and the reason say what is stored already. After a fault
  /// that passes, next() goes on behind what was stored.
  std::optional<Verdict> take(const Answer& answer);

 private:
  struct Progress {
    Stage stage = Stage::Write;
    Stored stored;
    std::string place;  ///< where it is, or is to be replaced
  };

  Plan(std::vector<Part> parts, config::Strategy strategy);
  std::string unknownPatient() const;
  std::optional<std::size_t> turn() const;
  std::vector<std::size_t> ready() const;
  bool free(const Part& part) const;
  Call batch() const;
  Call writing(std::size_t at) const;
  std::optional<Verdict> takePatient(const Answer& answer, const std::string& reference);
  std::optional<Verdict> takeBatch(const Answer& answer);
  std::optional<Verdict> takeSearch(const Answer& answer, std::size_t at);
  std::optional<Verdict> takeWritten(const Answer& answer, std::size_t at);
  std::optional<Verdict> takeCompared(const Answer& answer, std::size_t at);
  void finish(std::size_t at, Stored stored);
  std::optional<Verdict> conclude();
  Verdict failed(Verdict verdict, const std::string& what);
  std::vector<Stored> stored() const;

  config::Strategy strategy_;
  std::vector<Part> parts_;
  std::vector<Progress> progress_;  ///< of each part
  References known_;                ///< what references become
};

}  // namespace footbridge::deliver
