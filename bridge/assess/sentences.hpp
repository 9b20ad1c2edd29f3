#pragma once
// How derive, grade and flags say something: every sentence and every figure comes from a row of
// mapping/rules.json, so that the wording is reviewed with the tables and not with the code.

#include <cstdint>
#include <string>
#include <string_view>

#include "core/text.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::assess {

/// The sentence of a rule with the arguments put in.
std::string sentence(const Tables& tables, RowId rule, Arguments arguments = {});

/// The same, to go with a result.
Remark remark(const Tables& tables, RowId rule, Arguments arguments = {});
Remark remark(const Rule& rule, Arguments arguments = {});

/// A number that a rule compares with; the tests of the table know it to be there.
std::int32_t figure(const Tables& tables, RowId rule, std::string_view name);

/// Adds a sentence to others.
void join(std::string& sentences, std::string_view more);

/// "a, b and c".
std::string listing(const std::vector<std::string>& names);

}  // namespace footbridge::assess
