// The one file that knows RapidJSON's reader. Debian's 1.1.0 is the release of 2016: iterative
// parsing (the recursive one overflows the stack), numbers as text (its conversions are undefined
// for some inputs) and validated encoding are all needed, and five traps are closed by hand below.

#define RAPIDJSON_HAS_STDSTRING 1
#ifdef __SSE2__
#define RAPIDJSON_SSE2
#endif
#include <rapidjson/error/en.h>
#include <rapidjson/memorystream.h>
#include <rapidjson/reader.h>

#include <algorithm>
#include <functional>
#include <tuple>

#include "core/text.hpp"
#include "json/block.hpp"
#include "json/events.hpp"
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
constexpr std::size_t kUsualMembers = 4;

/// Whether faultOf() can find anything in what is parsed: not where all is valid and no character
/// is written by its number.
enum class Texts : std::uint8_t { Plain, Suspect };

// RapidJSON lets an escaped lone low surrogate through even when it validates, and gives "\u0000"
// as a NUL inside the text. A surrogate begins with 0xED in UTF-8.
const char* faultOf(std::string_view text) {
  bool suspect = false;
  for (const char c : text) suspect |= c == '\0' || c == '\xED';
  if (!suspect) return nullptr;
  if (text.find('\0') != std::string_view::npos) return "A text holds a NUL character.";
  return validUtf8(text) ? nullptr : "A text holds half of a surrogate pair.";
}

/// Builds the tree from the parser's events, each value in its place. Stops the parser by returning
/// false, with the reason in `fault_`.
class Builder : public rapidjson::BaseReaderHandler<rapidjson::UTF8<>, Builder> {
 public:
  /// `tell` gives the byte that the parser is at.
  Builder(const Limits& limits, std::function<std::size_t()> tell, Texts texts)
      : limits_(limits), tell_(std::move(tell)), texts_(texts) {
    open_.reserve(limits.depth);
  }

  bool Null() { return put(nullptr); }
  bool Bool(bool value) { return put(value); }
  bool RawNumber(const char* text, rapidjson::SizeType size, bool) {
    if (size > limits_.numberLength) return stop("A number has more digits than can be meant.");
    return put(Number{std::string(text, size)});
  }
  bool String(const char* text, rapidjson::SizeType size, bool) {
    if (!checked({text, size})) return false;
    slot().content().emplace<std::string>(text, size);
    return true;
  }
  bool StartObject() {
    if (!mayOpen()) return false;
    open().content().emplace<Object>().reserve(kUsualMembers);
    return true;
  }
  bool StartArray() {
    if (!mayOpen()) return false;
    open().content().emplace<Array>();
    return true;
  }
  bool Key(const char* text, rapidjson::SizeType size, bool) {
    const std::string_view name{text, size};
    if (!checked(name)) return false;
    auto& members = std::get<Object>(open_.back()->content());
    const bool twice = std::any_of(members.begin(), members.end(), [name](const Member& member) {
      return sameText(member.first, name);
    });
    members.emplace_back(std::piecewise_construct, std::forward_as_tuple(name), std::tuple{});
    if (members.size() > limits_.members) return stop("An object has too many members.");
    return !twice || stop("The name \"" + std::string(shortened(name, 60)) +
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

  bool checked(std::string_view text) {
    if (texts_ == Texts::Plain) return true;
    const char* const fault = faultOf(text);
    return fault == nullptr || stop(fault);
  }

  bool mayOpen() {
    return open_.size() < limits_.depth || stop("Objects and lists are nested too deeply.");
  }

  // The iterative parser tells of a bracket before it takes it.
  Value& open() {
    Value& value = slot();
    value.span.begin = tell_();
    open_.push_back(&value);
    return value;
  }

  bool close() {
    open_.back()->span.end = tell_() + 1;
    open_.pop_back();
    return true;
  }

  template <class Content>
  bool put(Content content) {
    slot().content() = std::move(content);
    return true;
  }

  /// Where the value that was just read belongs. It stays there: what holds it grows only once it
  /// is complete.
  Value& slot() {
    if (open_.empty()) return root_;
    Value::Content& holder = open_.back()->content();
    if (auto* members = std::get_if<Object>(&holder)) return members->back().second;
    return std::get<Array>(holder).emplace_back();
  }

  const Limits& limits_;
  std::function<std::size_t()> tell_;
  Texts texts_;
  Value root_;
  std::vector<Value*> open_;  ///< containers that are not complete, the innermost last
  std::string fault_;
};

std::string Builder::place() const {
  std::string pointer;
  for (const Value* each : open_) {
    if (const Array* list = each->asArray()) {
      const bool complete = each == open_.back();  // each element so far; the next is at fault
      pointer = child(pointer, complete ? list->size() : list->size() - 1);
    } else if (const Object* members = each->asObject(); !members->empty()) {
      pointer = child(pointer, members->back().first);
    }
  }
  return pointer;
}

/// Passes the parser's events on.
class Walker : public rapidjson::BaseReaderHandler<rapidjson::UTF8<>, Walker> {
 public:
  Walker(const Hear& hear, const Limits& limits, Texts texts)
      : hear_(hear), limits_(limits), texts_(texts) {}

  bool Default() {
    hear_(Part::Other, {});
    return true;
  }
  bool RawNumber(const char*, rapidjson::SizeType size, bool) {
    return size <= limits_.numberLength && Default();
  }
  bool String(const char* text, rapidjson::SizeType size, bool) {
    return tell(Part::Text, {text, size});
  }
  bool Key(const char* text, rapidjson::SizeType size, bool) {
    return tell(Part::Name, {text, size});
  }
  bool StartObject() { return open(Part::BeginObject); }
  bool StartArray() { return open(Part::BeginArray); }
  bool EndObject(rapidjson::SizeType members) { return close() && members <= limits_.members; }
  bool EndArray(rapidjson::SizeType) { return close(); }

 private:
  bool tell(Part part, std::string_view text) {
    hear_(part, text);
    return texts_ == Texts::Plain || faultOf(text) == nullptr;
  }
  bool open(Part part) {
    hear_(part, {});
    return ++depth_ <= limits_.depth;
  }
  bool close() {
    hear_(Part::End, {});
    --depth_;
    return true;
  }

  const Hear& hear_;
  const Limits& limits_;
  Texts texts_;
  std::size_t depth_ = 0;
};

constexpr unsigned kFlags = rapidjson::kParseIterativeFlag | rapidjson::kParseNumbersAsStringsFlag;
constexpr unsigned kQuickFlags = kFlags | rapidjson::kParseInsituFlag;
constexpr unsigned kStrictFlags = kFlags | rapidjson::kParseValidateEncodingFlag;

/// The parser looks at so many bytes at once, and may do so beyond the end.
constexpr std::size_t kPadding = 16;

/// Where it does so it takes these for characters that may stand in a text (the fifth trap).
struct Overlooked {
  static Block hits(const Block& bytes) {
    return Block((bytes >= all(0x1A)) & (bytes < all(0x20)));
  }
};

/// A text in UTF-8 without such bytes, in which the parser may put together what is escaped: that
/// is read many bytes at once. Others are read byte by byte, which says where the fault is.
class QuickText {
 public:
  explicit QuickText(std::string_view bytes) {
    copy_.reserve(bytes.size() + kPadding);
    copy_.append(bytes).append(kPadding, '\0');
    possible_ = isFree<Overlooked>(copy_) && validUtf8(bytes);
    if (bytes.find("\\u") == std::string_view::npos) texts_ = Texts::Plain;
  }
  bool possible() const { return possible_; }
  char* data() { return copy_.data(); }
  Texts texts() const { return texts_; }

 private:
  std::string copy_;
  bool possible_ = false;
  Texts texts_ = Texts::Suspect;
};

/// The parser stops at a NUL as at the end, so what follows the value is checked here.
bool onlySpaceAfter(std::string_view bytes, std::size_t at) {
  return bytes.find_first_not_of(" \t\r\n", at) == std::string_view::npos;
}

template <unsigned flags, class Stream>
Result<Value> build(std::string_view bytes, Stream& stream, const Limits& limits, Texts texts) {
  Builder builder(
      limits, [&stream] { return stream.Tell(); }, texts);
  rapidjson::Reader reader(nullptr, kUsualStack);
  const rapidjson::ParseResult result = reader.Parse<flags>(stream, builder);
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

}  // namespace

Result<Value> read(std::string_view bytes, const Limits& limits) {
  if (bytes.size() > limits.bytes) {
    return broken("The text is larger than " + std::to_string(limits.bytes >> 20U) + " MB.");
  }
  if (bytes.starts_with("\xEF\xBB\xBF")) return broken("The text begins with a byte-order mark.");
  if (trimmed(bytes).empty()) return broken("There is nothing here: the text is empty.");
  if (QuickText quick(bytes); quick.possible()) {
    rapidjson::InsituStringStream stream(quick.data());
    return build<kQuickFlags>(bytes, stream, limits, quick.texts());
  }
  rapidjson::MemoryStream stream(bytes.data(), bytes.size());
  return build<kStrictFlags>(bytes, stream, limits, Texts::Suspect);
}

bool walk(std::string_view bytes, const Hear& hear, const Limits& limits) {
  if (bytes.size() > limits.bytes) return false;
  QuickText quick(bytes);
  if (!quick.possible()) return false;
  rapidjson::InsituStringStream stream(quick.data());
  Walker walker(hear, limits, quick.texts());
  rapidjson::Reader reader(nullptr, kUsualStack);
  return !reader.Parse<kQuickFlags>(stream, walker).IsError() &&
         onlySpaceAfter(bytes, std::min(stream.Tell(), bytes.size()));
}

}  // namespace footbridge::json
