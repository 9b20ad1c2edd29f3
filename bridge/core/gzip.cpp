#include "core/gzip.hpp"

#include <zlib.h>

#include <limits>

namespace footbridge {
namespace {

constexpr int kGzipForm = 16 + MAX_WBITS;  ///< zlib's way to ask for gzip's header and trailer
constexpr int kMemory = 8;                 ///< zlib's default

}  // namespace

std::string gzipped(std::string_view bytes) {
  z_stream stream{};
  if (bytes.size() > std::numeric_limits<uInt>::max() ||
      deflateInit2(&stream, Z_BEST_SPEED, Z_DEFLATED, kGzipForm, kMemory, Z_DEFAULT_STRATEGY) !=
          Z_OK) {
    return {};
  }
  std::string in(bytes);  // zlib's pointer is to bytes that could be written
  std::string out(deflateBound(&stream, static_cast<uLong>(in.size())), '\0');
  const auto pointer = [](std::string& of) {
    return static_cast<Bytef*>(static_cast<void*>(of.data()));
  };
  stream.next_in = pointer(in);
  stream.avail_in = static_cast<uInt>(in.size());
  stream.next_out = pointer(out);
  stream.avail_out = static_cast<uInt>(out.size());
  const int end = deflate(&stream, Z_FINISH);
  out.resize(end == Z_STREAM_END ? stream.total_out : 0);
  deflateEnd(&stream);
  return out;
}

}  // namespace footbridge
