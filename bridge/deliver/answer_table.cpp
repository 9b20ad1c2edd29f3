#include "deliver/answer_table.hpp"

namespace footbridge::deliver {
namespace {

constexpr std::string_view kHttp = "HL7 FHIR R4 http.html, transaction and status codes";
constexpr std::string_view kRfc = "RFC 9110 section 15";

// The first row that holds the status is taken: single statuses stand before their hundreds.
constexpr std::array kRows{
    AnswerRow{202, 202, Act::Confirm, About::Bundle, "was taken but is not stored yet",
              "Footbridge looks for it until it has appeared.", kRfc, "verified"},
    AnswerRow{200, 299, Act::ReadEntries, About::Bundle, "was answered with success", "", kHttp,
              "verified"},
    AnswerRow{300, 399, Act::Hold, About::Destination, "the server redirects to another address",
              "Set base to the address that the server names; redirects are not followed.", kRfc,
              "verified"},
    AnswerRow{401, 401, Act::Renew, About::Destination, "the credentials were not accepted",
              "Renew them or the registration at the server, then release what is held.", kHttp,
              "verified"},
    AnswerRow{403, 403, Act::Hold, About::Destination, "the credentials do not allow this",
              "Have the rights granted that the server names, then release what is held.", kHttp,
              "verified"},
    AnswerRow{
        404, 404, Act::Hold, About::Unclear, "the server knows no such address, or no such patient",
        "Check base. If other bundles arrive, register the patient in the record, then release "
        "what is held.",
        kHttp, "verified"},
    AnswerRow{405, 405, Act::Hold, About::Destination, "the server takes no transactions here",
              "Ask `footbridge probe` what it takes and set strategy.", kHttp, "verified"},
    AnswerRow{406, 406, Act::Hold, About::Destination, "the server does not speak FHIR JSON",
              "Check base, then release what is held.", kHttp, "verified"},
    AnswerRow{408, 408, Act::Retry, About::Moment, "the server waited too long for the request", "",
              kRfc, "verified"},
    AnswerRow{
        409, 409, Act::RetryBounded, About::Bundle, "it conflicts with another change",
        "See in the record what else changes these resources; if it is held in the end, release "
        "it then.",
        kHttp, "verified"},
    AnswerRow{410, 410, Act::Hold, About::Bundle, "a resource it belongs to was deleted there",
              "See in the record why, then release or drop it.", kHttp, "verified"},
    AnswerRow{412, 412, Act::Hold, About::Bundle,
              "the record holds none or several where it needs exactly one",
              "Register the patient, or have the doubles merged, then release it.", kHttp,
              "verified"},
    AnswerRow{413, 413, Act::Hold, About::Bundle, "it is larger than the server allows",
              "Have the server's limit raised, then release it. One visit is never split.", kRfc,
              "verified"},
    AnswerRow{415, 415, Act::Hold, About::Destination, "the server does not take FHIR JSON",
              "Check base, then release what is held.", kHttp, "verified"},
    AnswerRow{422, 422, Act::Refuse, About::Bundle, "its content was refused",
              "Mend what the server names and send the assessment as a new revision.", kHttp,
              "verified"},
    AnswerRow{424, 424, Act::RetryBounded, About::Bundle, "something it depends on failed",
              "See what the server names; if it is held in the end, release it then.",
              "RFC 4918 section 11.4", "verified"},
    AnswerRow{429, 429, Act::Retry, About::Moment, "the server asks for less haste", "",
              "RFC 6585 section 4", "verified"},
    AnswerRow{400, 499, Act::Refuse, About::Bundle, "the server cannot accept it",
              "Mend what the server names and send the assessment as a new revision.", kHttp,
              "verified"},
    AnswerRow{500, 500, Act::RetryBounded, About::Moment, "the server failed",
              "Have the server's log read; if it is held in the end, release it then.", kRfc,
              "verified"},
    AnswerRow{501, 501, Act::Hold, About::Destination, "the server cannot do this at all",
              "Ask `footbridge probe` what it takes and set strategy.", kRfc, "verified"},
    AnswerRow{502, 504, Act::Retry, About::Moment, "the server cannot answer at the moment", "",
              kRfc, "verified"},
    AnswerRow{507, 507, Act::Retry, About::Moment, "the server has no room", "",
              "RFC 4918 section 11.5", "verified"},
    AnswerRow{0, 999, Act::RetryBounded, About::Moment, "the answer has no meaning here",
              "Check that base is a FHIR server; if it is held in the end, release it then.", kRfc,
              "our choice"}};

}  // namespace

std::span<const AnswerRow> answerTable() { return kRows; }

const AnswerRow& rowFor(long status) {
  for (const AnswerRow& row : kRows) {
    if (status >= row.from && status <= row.to) return row;
  }
  return kRows.back();
}

}  // namespace footbridge::deliver
