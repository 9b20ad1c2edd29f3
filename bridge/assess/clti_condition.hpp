#pragma once
// The clinical side of definitions of limb-threatening ischaemia: rest pain or tissue loss, and how
// long it has lasted.

#include <array>
#include <string_view>
#include <vector>

#include "assess/leg.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::assess {

/// What is recorded of one leg, asked once for all definitions.
class Conditions {
 public:
  explicit Conditions(const Leg& leg);

  /// Remarks whether the condition of the definition is recorded and whether its duration is what
  /// the definition asks.
  void remarkOn(Grade& grade, const CltiDefinition& definition) const;

 private:
  /// A condition as it is recorded, with the item that says for how long.
  struct Recorded {
    std::string_view name;
    Answer present = Answer::Unknown;
    Item days{};
  };

  /// What one kind of definition asks for, and what there is to say about that.
  struct Kind {
    std::string_view name;
    std::vector<Recorded> recorded{};
    bool present = false;
    Remark remark{};
  };

  Kind kindOf(std::string_view name) const;
  Answer anyLongEnough(const Kind& kind, const CltiDefinition& definition) const;
  std::string daysText(const Kind& kind) const;

  const Leg& leg_;
  std::array<Kind, 3> kinds_;
};

}  // namespace footbridge::assess
