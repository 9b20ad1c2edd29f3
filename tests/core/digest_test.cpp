#include "core/digest.hpp"

#include <gtest/gtest.h>

namespace footbridge {
namespace {

// The examples that NIST publishes with FIPS 180-4.
TEST(Sha256, GivesThePublishedDigests) {
  EXPECT_EQ(sha256(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  EXPECT_EQ(sha256("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  EXPECT_EQ(sha256(std::string(1'000'000, 'a')),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

TEST(Sha256, ReadsPastANulByte) { EXPECT_NE(sha256(std::string_view("a\0b", 3)), sha256("a")); }

// RFC 4122 appendix C.
constexpr UuidNamespace kDnsNamespace{0x6b, 0xa7, 0xb8, 0x10, 0x9d, 0xad, 0x11, 0xd1,
                                      0x80, 0xb4, 0x00, 0xc0, 0x4f, 0xd4, 0x30, 0xc8};

// The first is in the errata of RFC 4122 and in RFC 9562; all agree with Python's uuid.uuid5.
TEST(Uuid, GivesThePublishedNames) {
  UuidMaker dns{kDnsNamespace};
  EXPECT_EQ(view(dns.make("www.example.com")), "2ed6657d-e927-568b-95e1-2665a8aea6a2");
  EXPECT_EQ(view(dns.make("python.org")), "886313e1-3b8a-5372-9b90-0c9aee199e5d");
  EXPECT_EQ(view(dns.make("")), "4ebd0208-8328-5d69-8c44-ec50939c0967");
  EXPECT_EQ(view(dns.make(std::string(64, 'a'))), "efd9d9de-780b-5e83-a3e7-30a408967cf8");
  UuidMaker url{kUrlNamespace};
  EXPECT_EQ(view(url.make("https://footbridge.example/")), "c245a16f-ed96-55b2-93be-2bf66c089d20");
  EXPECT_EQ(view(url.make("https://footbridge.example/\xC3\xA9")),
            "657db2e7-7f81-5492-b787-4536d1722936");
}

TEST(Uuid, TheSameNameGivesTheSameUuidAndAnotherAnother) {
  UuidMaker maker{kUrlNamespace};
  const Uuid first = maker.make("a");
  EXPECT_NE(maker.make("b"), first);
  EXPECT_EQ(maker.make("a"), first);
  EXPECT_EQ(UuidMaker{kUrlNamespace}.make("a"), first);
  EXPECT_NE(UuidMaker{kDnsNamespace}.make("a"), first);
}

TEST(Uuid, OctetsAreThoseOfItsText) {
  UuidMaker url{kUrlNamespace};
  const Uuid uuid = url.make("a");
  UuidMaker below{octets(uuid)};
  EXPECT_EQ(view(uuid)[14], '5');
  EXPECT_NE(std::string_view("89ab").find(view(uuid)[19]), std::string_view::npos);
  Uuid text{};
  std::string_view("6ba7b811-9dad-11d1-80b4-00c04fd430c8").copy(text.data(), text.size());
  EXPECT_EQ(octets(text), kUrlNamespace);
  EXPECT_NE(view(below.make("a")), view(uuid));
}

}  // namespace
}  // namespace footbridge
