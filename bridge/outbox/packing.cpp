#include "outbox/packing.hpp"

#include <zstd.h>

#include <cstdio>
#include <cstdlib>

namespace footbridge::outbox {
namespace {

constexpr int kLevel = 1;
/// A short text is erased soon, and searching it for repetitions costs more than sealing it.
constexpr int kShortLevel = -10;
constexpr std::size_t kShort = 8192;
constexpr unsigned long long kLargest = 256ULL << 20U;  ///< no payload of ours comes near it

}  // namespace

struct Packer::State {
  std::unique_ptr<ZSTD_CCtx, decltype(&ZSTD_freeCCtx)> squeeze{ZSTD_createCCtx(), &ZSTD_freeCCtx};
  std::unique_ptr<ZSTD_DCtx, decltype(&ZSTD_freeDCtx)> expand{ZSTD_createDCtx(), &ZSTD_freeDCtx};
  std::string buffer;
};

Packer::Packer(const Sealer& sealer) : sealer_(sealer), state_(std::make_unique<State>()) {}
Packer::~Packer() = default;

std::string Packer::pack(std::string_view text, std::string_view context) {
  std::string& buffer = state_->buffer;
  buffer.resize(ZSTD_compressBound(text.size()));
  const std::size_t size =
      ZSTD_compressCCtx(state_->squeeze.get(), buffer.data(), buffer.size(), text.data(),
                        text.size(), text.size() < kShort ? kShortLevel : kLevel);
  if (ZSTD_isError(size) != 0U) {
    // With room for the bound only a lack of memory leads here; storing nothing would lose a
    // reading.
    std::fputs("footbridge: the compression library failed\n", stderr);
    std::abort();
  }
  return sealer_.seal(std::string_view(buffer).substr(0, size), context);
}

std::optional<std::string> Packer::unpack(std::string_view packed, std::string_view context) {
  const std::optional<std::string> squeezed = sealer_.open(packed, context);
  if (!squeezed) return std::nullopt;
  const unsigned long long size = ZSTD_getFrameContentSize(squeezed->data(), squeezed->size());
  if (size > kLargest) return std::nullopt;  // also the two values that stand for "unknown"
  std::string out(size, '\0');
  const std::size_t got = ZSTD_decompressDCtx(state_->expand.get(), out.data(), out.size(),
                                              squeezed->data(), squeezed->size());
  if (got != out.size()) return std::nullopt;
  return out;
}

}  // namespace footbridge::outbox
