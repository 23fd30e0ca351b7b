// Package compare says what changed from one verdict to another, and whether that is more than
// chance: a baseline against a policy's new version, or one controller against another.
//
// # What is compared
//
// Each clause of each criterion of each scenario that both sides have, over the seeds of each side. A margin is
// positive where the clause holds, so that less is worse. The two sides never need to have the same seeds; where they
// share two or more, only those count, in pairs: a seed makes the same noise, sky and loads on both sides, so that a pair
// differs by the controller alone and by what follows from it.
//
// # When it counts
//
// A verdict that was lost counts whatever the numbers: a clause that held on every seed, and fails on one of the same
// seeds now, comes with a run that shows it. So does a clause that nobody judges any more, or that no seed shows any
// more, and a controller that dies.
//
// A margin counts when the difference is larger than the tolerance, a share of the limit, and larger than seeds explain:
//
//   - pairs: Wilcoxon's signed-rank test of the differences (F. Wilcoxon, "Individual comparisons by ranking methods",
//     Biometrics Bulletin 1 (1945) 80-83), exact up to 100 pairs, pairs without a difference left aside;
//   - other seeds on the two sides: the rank-sum test (the same; H. B. Mann, D. R. Whitney, Ann. Math. Stat. 18
//     (1947) 50-60), exact up to 40 runs;
//   - how many seeds fail: the sign test on the pairs whose verdict changed, or Fisher's exact test.
//
// All are two-sided. Many margins are tested at once, and of a hundred that have not changed five would stand out at
// 5 % each: so the level holds for all together, by Holm's step-down rule (S. Holm, Scand. J. Stat. 6 (1979) 65-70).
//
// # Few seeds
//
// One seed cannot tell a change from chance, and few cannot either: five pairs reach 6 % at the very best. Where
// there are too few for the level, a difference counts if it is larger than the tolerance and every seed agrees on its
// direction; the comparison says that it rests on that alone, and how many seeds a test would need.
package compare
