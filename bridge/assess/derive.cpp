#include "assess/derive.hpp"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <iterator>

#include "assess/derive_parts.hpp"
#include "assess/pressures.hpp"
#include "assess/sentences.hpp"

namespace footbridge {
namespace {

using assess::Chosen;

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
                                         {{"other", tables.naming(*other, index.side)}}));
}

Index arteryIndex(const ArteryIndex& artery, Side side, const Chosen& arm,
                  const Assessment& assessment, const Tables& tables) {
  const Chosen pressure = assess::onePressure(assessment, artery.item, side, tables);
  Index index = assess::ratioOf(artery.kind, side, pressure, arm, tables);
  remarkHardNeighbour(index, artery.item, assessment, tables);
  return index;
}

Index gradientOf(Side side, const Chosen& ankle, const Chosen& toe, const Tables& tables) {
  Index index = assess::indexFrom(IndexKind::AnkleToeGradient, side, {&ankle, &toe});
  if (!ankle.pressure || !toe.pressure) return index;
  index.difference = Pressure{ankle.pressure->halves - toe.pressure->halves};
  index.method = assess::sentence(tables, "derive-method-gradient", {{"ankle", ankle.method}});
  return index;
}

Index interArm(const Assessment& assessment, const Tables& tables) {
  const Chosen right = assess::onePressure(assessment, Item::ArmSystolic, Side::Right, tables);
  const Chosen left = assess::onePressure(assessment, Item::ArmSystolic, Side::Left, tables);
  Index index = assess::indexFrom(IndexKind::InterArmDifference, Side::None, {&right, &left});
  if (!right.pressure || !left.pressure) return index;
  const std::int32_t signedHalves = right.pressure->halves - left.pressure->halves;
  index.difference = Pressure{std::abs(signedHalves)};
  index.method = assess::sentence(tables, "derive-method-inter-arm");
  if (signedHalves == 0) return index;
  const Side higher = signedHalves > 0 ? Side::Right : Side::Left;
  index.remarks.push_back(assess::remark(tables, "derive-higher-arm", {{"side", word(higher)}}));
  return index;
}

void add(std::vector<Index>& indices, std::vector<Index> more) {
  std::move(more.begin(), more.end(), std::back_inserter(indices));
}

/// All indices of one side, each at the place of its kind.
std::vector<Index> indicesOf(Side side, const Chosen& arm, const Assessment& assessment,
                             const Tables& tables) {
  const Chosen ankle = assess::anklePressure(assessment, side, tables);
  const Chosen lower = assess::lowerAnklePressure(assessment, side, tables);
  const Chosen toe = assess::onePressure(assessment, Item::ToePressure, side, tables);
  std::vector<Index> indices;
  indices.reserve(kIndexIds.size());
  indices.push_back(assess::ratioOf(IndexKind::Abi, side, ankle, arm, tables));
  indices.push_back(assess::ratioOf(IndexKind::AbiLowAnkle, side, lower, arm, tables));
  add(indices, assess::arteryIndices(assessment, side, arm, tables));
  add(indices, assess::otherFormulas(assessment, side, ankle, tables));
  const assess::Exercised exercise = assess::exercised(assessment, side, tables);
  indices.push_back(assess::abiAfterExercise(exercise, side, tables));
  const std::size_t tbi = indices.size();
  indices.push_back(assess::ratioOf(IndexKind::Tbi, side, toe, arm, tables));
  indices.push_back(gradientOf(side, ankle, toe, tables));
  add(indices, assess::segmentGradients(assessment, side, ankle, tables));
  indices.push_back(assess::ankleFall(exercise, side, tables));
  indices.push_back(assess::abiFall(exercise, side, tables));
  add(indices, assess::changes(assessment, side, indices.front(), indices[tbi], tables));
  return indices;
}

/// Sitting raises the index by about 0.35, so whoever reads it must know (docs/clinical.md).
void remarkPosture(std::vector<Index>& indices, const Assessment& assessment,
                   const Tables& tables) {
  const std::string_view posture = chosenWord(assessment.find(Item::Posture, Side::None));
  if (posture.empty() || posture == "supine") return;
  const Remark said = assess::remark(
      tables, choose(posture == "sitting", "derive-posture-sitting", "derive-posture"),
      {{"posture", posture}});
  for (Index& index : indices) {
    if (index.present()) index.remarks.push_back(said);
  }
}

}  // namespace

namespace assess {

bool allKnown(std::initializer_list<const Chosen*> pressures) {
  return std::all_of(pressures.begin(), pressures.end(),
                     [](const Chosen* chosen) { return chosen->pressure.has_value(); });
}

Index indexFrom(IndexKind kind, Side side, std::initializer_list<const Chosen*> pressures) {
  Index index;
  index.kind = kind;
  index.side = side;
  const bool known = allKnown(pressures);
  for (const Chosen* chosen : pressures) {
    index.inputs.insert(index.inputs.end(), chosen->inputs.begin(), chosen->inputs.end());
    if (known) {
      index.remarks.insert(index.remarks.end(), chosen->remarks.begin(), chosen->remarks.end());
    } else if (!chosen->pressure) {
      if (index.because.empty()) index.reason = chosen->reason;
      join(index.because, chosen->because);
    }
  }
  return index;
}

void putRatio(Index& index, const Ratio& ratio) {
  index.ratio = ratio;
  index.hundredths = static_cast<std::int32_t>(hundredths(ratio));
}

Index ratioOf(IndexKind kind, Side side, const Chosen& numerator, const Chosen& arm,
              const Tables& tables) {
  Index index = indexFrom(kind, side, {&numerator, &arm});
  if (!allKnown({&numerator, &arm})) return index;
  putRatio(index, {numerator.pressure->halves, arm.pressure->halves});
  index.method = sentence(tables, "derive-method-ratio",
                          {{"numerator", numerator.method}, {"denominator", arm.method}});
  return index;
}

std::vector<Index> arteryIndices(const Assessment& assessment, Side side, const Chosen& arm,
                                 const Tables& tables) {
  std::vector<Index> indices;
  indices.reserve(kArteries.size());
  for (const ArteryIndex& artery : kArteries) {
    indices.push_back(arteryIndex(artery, side, arm, assessment, tables));
  }
  return indices;
}

}  // namespace assess

std::vector<Index> deriveIndices(const Assessment& assessment, const Tables& tables) {
  const Chosen arm = assess::armPressure(assessment, tables);
  std::vector<Index> right = indicesOf(Side::Right, arm, assessment, tables);
  std::vector<Index> left = indicesOf(Side::Left, arm, assessment, tables);
  std::vector<Index> indices;
  indices.reserve(2 * right.size() + 1);
  for (std::size_t i = 0; i < right.size(); ++i) {
    indices.push_back(std::move(right[i]));
    indices.push_back(std::move(left[i]));
  }
  indices.push_back(interArm(assessment, tables));
  remarkPosture(indices, assessment, tables);
  return indices;
}

}  // namespace footbridge
