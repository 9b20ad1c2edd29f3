#include "deliver/reads.hpp"

#include <algorithm>
#include <array>

#include "json/value.hpp"
#include "json/writer.hpp"

namespace footbridge::deliver {

bool refusesBatch(const Answer& answer) {
  constexpr std::array<long, 6> kRefusals{400, 404, 405, 413, 422, 501};
  return answer.wire == Wire::Answered &&
         std::find(kRefusals.begin(), kRefusals.end(), answer.status) != kRefusals.end();
}

Reads::Reads(std::string_view batch) {
  const Result<json::Value> read = json::read(batch);
  if (!read) return;
  for (const json::Value& entry : read->list("entry")) {
    const json::Value* request = entry.member("request");
    if (request != nullptr) paths_.push_back("/" + std::string(request->text("url")));
  }
}

std::string Reads::next() const { return at_ < paths_.size() ? paths_[at_] : "/metadata"; }

std::optional<Answer> Reads::take(const Answer& answer) {
  const bool absent = answer.status == 404 || answer.status == 410;
  if (answer.wire != Wire::Answered || (answer.status != 200 && !absent)) return answer;
  const Result<json::Value> body = json::read(answer.body);
  const bool fhir = body && !body->text("resourceType").empty();
  if (!absent && !fhir) return answer;
  if (!entries_.empty()) entries_ += ',';
  entries_ += '{';
  if (!absent) {
    entries_ += "\"resource\":";
    json::appendValue(entries_, *body);
    entries_ += ',';
  }
  entries_ += R"("response":{"status":")" + std::to_string(answer.status) + "\"}}";
  if (++at_ < paths_.size()) return std::nullopt;
  Answer out = answer;
  out.status = 200;
  out.body = R"({"resourceType":"Bundle","type":"batch-response","entry":[)" + entries_ + "]}";
  return out;
}

}  // namespace footbridge::deliver
