#include "support/unzipped.hpp"

#include <zlib.h>

#include <array>

namespace footbridge::test {

std::optional<std::string> unzipped(const std::string& bytes) {
  std::string in = bytes;
  z_stream stream{};
  if (inflateInit2(&stream, 16 + MAX_WBITS) != Z_OK) return std::nullopt;
  stream.next_in = static_cast<Bytef*>(static_cast<void*>(in.data()));
  stream.avail_in = static_cast<uInt>(in.size());
  std::string out;
  int end = Z_OK;
  while (end == Z_OK) {
    std::array<Bytef, 65'536> part{};
    stream.next_out = part.data();
    stream.avail_out = static_cast<uInt>(part.size());
    end = inflate(&stream, Z_NO_FLUSH);
    out.append(static_cast<const char*>(static_cast<void*>(part.data())),
               part.size() - stream.avail_out);
  }
  const bool whole = end == Z_STREAM_END && stream.avail_in == 0;
  inflateEnd(&stream);
  if (!whole) return std::nullopt;
  return out;
}

}  // namespace footbridge::test
