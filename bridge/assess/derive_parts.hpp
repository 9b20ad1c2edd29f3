#pragma once
// The groups of indices; derive.cpp puts them together.

#include <initializer_list>
#include <optional>
#include <vector>

#include "assess/pressures.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::assess {

/// An index with what it rests on; without a value, the reasons of the pressures that are not
/// known.
Index indexFrom(IndexKind kind, Side side, std::initializer_list<const Chosen*> pressures);

/// True if all the pressures are known, so that a value can be put in.
bool allKnown(std::initializer_list<const Chosen*> pressures);

/// A ratio, rounded once.
void putRatio(Index& index, const Ratio& ratio);

/// A pressure of the leg over that of the arm: the indices of ankle and toe.
Index ratioOf(IndexKind kind, Side side, const Chosen& numerator, const Chosen& arm,
              const Tables& tables);

/// The index of each artery of the ankle by itself.
std::vector<Index> arteryIndices(const Assessment& assessment, Side side, const Chosen& arm,
                                 const Tables& tables);

/// Formulas other than the usual one, each under its own name: mean of the arms, mean of both
/// arteries.
std::vector<Index> otherFormulas(const Assessment& assessment, Side side, const Chosen& ankle,
                                 const Tables& tables);

/// High thigh to low thigh, thigh to calf, calf to ankle.
std::vector<Index> segmentGradients(const Assessment& assessment, Side side, const Chosen& ankle,
                                    const Tables& tables);

/// Pressures of one artery at rest and after exercise.
struct Exercised {
  Chosen rest{};   ///< of the artery that is compared with itself
  Chosen after{};  ///< the same artery after exercise
  Chosen arm{};
  Chosen armAfter{};
  std::optional<Pressure> highestAfter{};  ///< that a bound after exercise leaves
};

/// The artery with the higher pressure at rest; the other, with a remark, where the first was not
/// looked at again. A signal that was lost, or an artery that was not shut, is no reason to change.
Exercised exercised(const Assessment& assessment, Side side, const Tables& tables);

Index abiAfterExercise(const Exercised& pressures, Side side, const Tables& tables);
Index ankleFall(const Exercised& pressures, Side side, const Tables& tables);

/// From the exact ratios: `ratio` is the part that is gone, negative where the index rose.
Index abiFall(const Exercised& pressures, Side side, const Tables& tables);

/// What has changed since the earlier assessment whose figures came with this one.
std::vector<Index> changes(const Assessment& assessment, Side side, const Index& abi,
                           const Index& tbi, const Tables& tables);

}  // namespace footbridge::assess
