#include "assess/sentences.hpp"

#include <cassert>

namespace footbridge::assess {

std::string sentence(const Tables& tables, RowId rule, Arguments arguments) {
  return tables.rule(rule).sentence.fill(arguments);
}

Remark remark(const Tables& tables, RowId rule, Arguments arguments) {
  return remark(tables.rule(rule), arguments);
}

Remark remark(const Rule& rule, Arguments arguments) {
  return {rule.id, rule.sentence.fill(arguments), rule.severity};
}

std::int32_t figure(const Tables& tables, RowId rule, std::string_view name) {
  const std::int32_t* const found = tables.rule(rule).number(name);
  assert(found != nullptr);
  return *found;
}

void join(std::string& sentences, std::string_view more) {
  if (more.empty()) return;
  if (!sentences.empty()) sentences += ' ';
  sentences += more;
}

std::string listing(const std::vector<std::string>& names) {
  std::string out;
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (i > 0) out += i + 1 == names.size() ? " and " : ", ";
    out += names[i];
  }
  return out;
}

}  // namespace footbridge::assess
