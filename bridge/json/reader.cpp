// The one file that knows RapidJSON's reader. Debian's 1.1.0 is the release of 2016: iterative
// parsing (the recursive one overflows the stack), numbers as text (its conversions are undefined
// for some inputs) and validated encoding are all needed, and four traps are closed by hand below.

#define RAPIDJSON_HAS_STDSTRING 1
#include <rapidjson/error/en.h>
#include <rapidjson/memorystream.h>
#include <rapidjson/reader.h>

#include <algorithm>

#include "core/text.hpp"
#include "json/value.hpp"

namespace footbridge::json {
namespace {

Issue broken(std::string text, std::string place = {}) {
  return {Severity::Error, IssueType::Structure,
          "json-syntax",   std::move(place),
          std::move(text), "Send one well-formed JSON text in UTF-8 (RFC 8259)."};
}

/// Room of the parser for what it is in the middle of, made at once.
constexpr std::size_t kUsualStack = 4096;

/// Room made at once, rather than while the members come.
constexpr std::size_t kUsualMembers = 8;

/// Builds the tree from the parser's events. Stops the parser by returning false, with the reason
/// in `fault_`.
class Builder : public rapidjson::BaseReaderHandler<rapidjson::UTF8<>, Builder> {
 public:
  Builder(const Limits& limits, const rapidjson::MemoryStream& stream)
      : limits_(limits), stream_(stream) {
    stack_.reserve(limits.depth);
    names_.reserve(limits.depth);
  }

  bool Null() { return add(Value{Value::Content{nullptr}}); }
  bool Bool(bool value) { return add(Value{Value::Content{value}}); }
  bool RawNumber(const char* text, rapidjson::SizeType size, bool) {
    if (size > limits_.numberLength) return stop("A number has more digits than can be meant.");
    return add(Value{Value::Content{Number{std::string(text, size)}}});
  }
  bool String(const char* text, rapidjson::SizeType size, bool) {
    return checked({text, size}) && add(Value{Value::Content{std::string(text, size)}});
  }
  bool StartObject() {
    Object members;
    members.reserve(kUsualMembers);
    return open(Value{Value::Content{std::move(members)}});
  }
  bool StartArray() { return open(Value{Value::Content{Array{}}}); }
  bool Key(const char* text, rapidjson::SizeType size, bool) {
    if (!checked({text, size})) return false;
    names_.back().assign(text, size);
    const auto& members = std::get<Object>(stack_.back().content());
    if (members.size() >= limits_.members) return stop("An object has too many members.");
    const bool twice = std::any_of(members.begin(), members.end(), [&](const Member& member) {
      return member.first == names_.back();
    });
    return !twice || stop("The name \"" + std::string(shortened(names_.back(), 60)) +
                          "\" stands twice in one object.");
  }
  bool EndObject(rapidjson::SizeType) { return close(); }
  bool EndArray(rapidjson::SizeType) { return close(); }

  const std::string& fault() const { return fault_; }
  std::string place() const;
  Value take() { return std::move(root_); }

 private:
  bool stop(std::string why) {
    fault_ = std::move(why);
    return false;
  }

  // RapidJSON lets an escaped lone low surrogate through even when it validates, and gives "\u0000"
  // as a NUL inside the text.
  bool checked(std::string_view text) {
    if (text.find('\0') != std::string_view::npos) return stop("A text holds a NUL character.");
    // What is left to be found begins with this byte in UTF-8.
    if (text.find('\xED') == std::string_view::npos) return true;
    return validUtf8(text) || stop("A text holds half of a surrogate pair.");
  }

  // The iterative parser tells of a bracket before it takes it.
  bool open(Value container) {
    if (stack_.size() >= limits_.depth) return stop("Objects and lists are nested too deeply.");
    container.span.begin = stream_.Tell();
    stack_.push_back(std::move(container));
    names_.emplace_back();
    return true;
  }

  bool close() {
    Value done = std::move(stack_.back());
    stack_.pop_back();
    names_.pop_back();
    done.span.end = stream_.Tell() + 1;
    return add(std::move(done));
  }

  bool add(Value value) {
    if (stack_.empty()) {
      root_ = std::move(value);
    } else if (auto* members = std::get_if<Object>(&stack_.back().content())) {
      members->emplace_back(names_.back(), std::move(value));
    } else {
      std::get<Array>(stack_.back().content()).push_back(std::move(value));
    }
    return true;
  }

  const Limits& limits_;
  const rapidjson::MemoryStream& stream_;
  std::vector<Value> stack_;
  std::vector<std::string> names_;  ///< for each open container, the member being read
  std::string fault_;
  Value root_;
};

std::string Builder::place() const {
  std::string pointer;
  for (std::size_t i = 0; i < stack_.size(); ++i) {
    if (const Array* list = stack_[i].asArray()) {
      pointer = child(pointer, list->size());
    } else if (!names_[i].empty()) {
      pointer = child(pointer, names_[i]);
    }
  }
  return pointer;
}

constexpr unsigned kFlags = rapidjson::kParseIterativeFlag | rapidjson::kParseValidateEncodingFlag |
                            rapidjson::kParseNumbersAsStringsFlag;

/// The parser stops at a NUL as at the end, so what follows the value is checked here.
bool onlySpaceAfter(std::string_view bytes, std::size_t at) {
  return bytes.find_first_not_of(" \t\r\n", at) == std::string_view::npos;
}

}  // namespace

Result<Value> read(std::string_view bytes, const Limits& limits) {
  if (bytes.size() > limits.bytes) {
    return broken("The text is larger than " + std::to_string(limits.bytes >> 20U) + " MB.");
  }
  if (bytes.starts_with("\xEF\xBB\xBF")) return broken("The text begins with a byte-order mark.");
  if (trimmed(bytes).empty()) return broken("There is nothing here: the text is empty.");
  rapidjson::MemoryStream stream(bytes.data(), bytes.size());
  Builder builder(limits, stream);
  rapidjson::Reader reader(nullptr, kUsualStack);
  const rapidjson::ParseResult result = reader.Parse<kFlags>(stream, builder);
  const auto atByte = [](std::size_t offset) {
    return " (byte " + std::to_string(offset + 1) + ")";
  };
  if (!builder.fault().empty()) {
    return broken(builder.fault() + atByte(stream.Tell()), builder.place());
  }
  if (result.IsError()) {
    return broken(std::string(rapidjson::GetParseError_En(result.Code())) + atByte(result.Offset()),
                  builder.place());
  }
  if (!onlySpaceAfter(bytes, std::min(stream.Tell(), bytes.size()))) {
    return broken("Something follows the end of the JSON text." + atByte(stream.Tell()));
  }
  return builder.take();
}

}  // namespace footbridge::json
