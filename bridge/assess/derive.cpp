#include "assess/derive.hpp"

#include <array>
#include <cstdlib>

#include "assess/pressures.hpp"
#include "assess/sentences.hpp"

namespace footbridge {
namespace {

using assess::Chosen;

void addInputs(Index& index, const Chosen& chosen) {
  index.inputs.insert(index.inputs.end(), chosen.inputs.begin(), chosen.inputs.end());
}

void addRemarks(Index& index, const Chosen& chosen) {
  index.remarks.insert(index.remarks.end(), chosen.remarks.begin(), chosen.remarks.end());
}

/// An index with what it would rest on, and the reasons if one of the two is not known.
Index indexOf(IndexKind kind, Side side, const Chosen& first, const Chosen& second) {
  Index index;
  index.kind = kind;
  index.side = side;
  for (const Chosen* chosen : {&first, &second}) addInputs(index, *chosen);
  if (first.pressure && second.pressure) {
    for (const Chosen* chosen : {&first, &second}) addRemarks(index, *chosen);
    return index;
  }
  index.reason = first.pressure ? second.reason : first.reason;
  assess::join(index.because, first.because);
  assess::join(index.because, second.because);
  return index;
}

Index ratioOf(IndexKind kind, Side side, const Chosen& numerator, const Chosen& arm,
              const Tables& tables) {
  Index index = indexOf(kind, side, numerator, arm);
  if (!index.because.empty() || !numerator.pressure || !arm.pressure) return index;
  index.ratio = Ratio{numerator.pressure->halves, arm.pressure->halves};
  index.hundredths = static_cast<std::int32_t>(hundredths(*index.ratio));
  index.method = assess::sentence(tables, "derive-method-ratio",
                                  {{"numerator", numerator.method}, {"denominator", arm.method}});
  return index;
}

struct ArteryIndex {
  IndexKind kind{};
  Item item{};
};

constexpr std::array kArteries{
    ArteryIndex{IndexKind::AbiDorsalisPedis, Item::AnkleDorsalisPedis},
    ArteryIndex{IndexKind::AbiPosteriorTibial, Item::AnklePosteriorTibial},
    ArteryIndex{IndexKind::AbiPeroneal, Item::AnklePeroneal},
    ArteryIndex{IndexKind::AbiAnteriorTibial, Item::AnkleAnteriorTibial}};

/// The artery beside this one whose pressure decides about the leg's index.
std::optional<Item> neighbour(Item item) {
  if (item == Item::AnkleDorsalisPedis) return Item::AnklePosteriorTibial;
  if (item == Item::AnklePosteriorTibial) return Item::AnkleDorsalisPedis;
  return std::nullopt;
}

/// Says beside the read artery's own index that the leg has none because its neighbour is hard.
void remarkHardNeighbour(Index& index, Item item, const Assessment& assessment,
                         const Tables& tables) {
  const auto other = neighbour(item);
  if (!index.present() || !other || !incompressible(assessment.find(*other, index.side))) return;
  index.remarks.push_back(assess::remark(tables, "derive-neighbour-incompressible",
                                         {{"other", assess::naming(tables, *other, index.side)}}));
}

Index arteryIndex(const ArteryIndex& artery, Side side, const Chosen& arm,
                  const Assessment& assessment, const Tables& tables) {
  const Chosen pressure = assess::onePressure(assessment, artery.item, side, tables);
  Index index = ratioOf(artery.kind, side, pressure, arm, tables);
  remarkHardNeighbour(index, artery.item, assessment, tables);
  return index;
}

Index gradientOf(Side side, const Chosen& ankle, const Chosen& toe, const Tables& tables) {
  Index index = indexOf(IndexKind::AnkleToeGradient, side, ankle, toe);
  if (!ankle.pressure || !toe.pressure) return index;
  index.difference = Pressure{ankle.pressure->halves - toe.pressure->halves};
  index.method = assess::sentence(tables, "derive-method-gradient", {{"ankle", ankle.method}});
  return index;
}

Index interArm(const Assessment& assessment, const Tables& tables) {
  const Chosen right = assess::onePressure(assessment, Item::ArmSystolic, Side::Right, tables);
  const Chosen left = assess::onePressure(assessment, Item::ArmSystolic, Side::Left, tables);
  Index index = indexOf(IndexKind::InterArmDifference, Side::None, right, left);
  if (!right.pressure || !left.pressure) return index;
  const std::int32_t signedHalves = right.pressure->halves - left.pressure->halves;
  index.difference = Pressure{std::abs(signedHalves)};
  index.method = assess::sentence(tables, "derive-method-inter-arm");
  if (signedHalves == 0) return index;
  const Side higher = signedHalves > 0 ? Side::Right : Side::Left;
  index.remarks.push_back(assess::remark(tables, "derive-higher-arm", {{"side", word(higher)}}));
  return index;
}

/// All indices of one side, each at the place of its kind.
std::vector<Index> indicesOf(Side side, const Assessment& assessment, const Tables& tables) {
  const Chosen arm = assess::armPressure(assessment, tables);
  const Chosen ankle = assess::anklePressure(assessment, side, tables);
  const Chosen lower = assess::lowerAnklePressure(assessment, side, tables);
  const Chosen toe = assess::onePressure(assessment, Item::ToePressure, side, tables);
  std::vector<Index> indices{ratioOf(IndexKind::Abi, side, ankle, arm, tables),
                             ratioOf(IndexKind::AbiLowAnkle, side, lower, arm, tables)};
  for (const ArteryIndex& artery : kArteries) {
    indices.push_back(arteryIndex(artery, side, arm, assessment, tables));
  }
  indices.push_back(ratioOf(IndexKind::Tbi, side, toe, arm, tables));
  indices.push_back(gradientOf(side, ankle, toe, tables));
  return indices;
}

/// Sitting raises the index by about 0.35, so whoever reads it must know (docs/clinical.md).
void remarkPosture(std::vector<Index>& indices, const Assessment& assessment,
                   const Tables& tables) {
  const std::string_view posture = chosenWord(assessment.find(Item::Posture, Side::None));
  if (posture.empty() || posture == "supine") return;
  for (Index& index : indices) {
    if (!index.present()) continue;
    index.remarks.push_back(assess::remark(tables, "derive-posture", {{"posture", posture}}));
  }
}

}  // namespace

std::vector<Index> deriveIndices(const Assessment& assessment, const Tables& tables) {
  const std::vector<Index> right = indicesOf(Side::Right, assessment, tables);
  const std::vector<Index> left = indicesOf(Side::Left, assessment, tables);
  std::vector<Index> indices;
  for (std::size_t i = 0; i < right.size(); ++i) {
    indices.push_back(right[i]);
    indices.push_back(left[i]);
  }
  indices.push_back(interArm(assessment, tables));
  remarkPosture(indices, assessment, tables);
  return indices;
}

}  // namespace footbridge
