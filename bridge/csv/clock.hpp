#pragma once
// Days and times as clinics write them.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/time.hpp"

namespace footbridge::csv {

/// How days are written: "dd/mm/yyyy", "yyyy-mm-dd", "d.m.yyyy", "dd mmm yyyy", "mm/dd/yy". Day and
/// month may have one digit or two whatever the pattern shows; mmm is a month by its English name
/// or the first three letters of it; yy is 2000 to 2099.
class DatePattern {
 public:
  /// Nothing unless the pattern names day, month and year once each, with signs between them.
  static std::optional<DatePattern> of(std::string_view pattern);

  /// The day at the beginning of the text; `rest` is what follows it. Nothing if it is written
  /// otherwise or does not exist.
  std::optional<Date> read(std::string_view text, std::string_view& rest) const;

  bool twoDigitYear() const { return twoDigitYear_; }
  const std::string& text() const { return text_; }

 private:
  struct Part {
    char what = 0;  ///< 'd', 'm', 'y', or the sign itself
    bool named = false;
  };
  std::vector<Part> parts_;
  std::string text_;
  bool twoDigitYear_ = false;
};

/// "10:20", "10:20:05", "9.30", "1020", "9:30 pm" as the second of the day. Nothing if it is none.
std::optional<std::int32_t> readTime(std::string_view text);

}  // namespace footbridge::csv
