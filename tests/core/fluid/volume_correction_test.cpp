#include "core/fluid/volume_correction.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

struct Row {
  double density;
  double at_c;
  double factor;
};

// API MPMS 11.1 / ASTM D1250 54D: values of the exact formula, without the rounding of the printed tables, computed with
// another program.
constexpr Row kGrid[] = {
    {820, -20, 1.026569}, {820, 0, 1.011444},   {820, 20, 0.996168},  {820, 35, 0.984620},
    {820, 40, 0.980754},  {820, 45, 0.976881},  {820, 60, 0.965217},  {820, 80, 0.949570},
    {820, 90, 0.941709},  {820, 100, 0.933826}, {840, -20, 1.025942}, {840, 0, 1.011172},
    {840, 20, 0.996259},  {840, 35, 0.984987},  {840, 40, 0.981215},  {840, 45, 0.977435},
    {840, 60, 0.966053},  {840, 80, 0.950785},  {840, 90, 0.943115},  {840, 100, 0.935423},
    {850, -20, 1.025639}, {850, 0, 1.011041},   {850, 20, 0.996303},  {850, 35, 0.985165},
    {850, 40, 0.981437},  {850, 45, 0.977702},  {850, 60, 0.966455},  {850, 80, 0.951370},
    {850, 90, 0.943793},  {850, 100, 0.936194}, {860, -20, 1.025344}, {860, 0, 1.010913},
    {860, 20, 0.996346},  {860, 35, 0.985338},  {860, 40, 0.981654},  {860, 45, 0.977963},
    {860, 60, 0.966849},  {860, 80, 0.951942},  {860, 90, 0.944454},  {860, 100, 0.936946},
    {880, -20, 1.024772}, {880, 0, 1.010666},   {880, 20, 0.996429},  {880, 35, 0.985673},
    {880, 40, 0.982073},  {880, 45, 0.978467},  {880, 60, 0.967608},  {880, 80, 0.953046},
    {880, 90, 0.945732},  {880, 100, 0.938398}};

TEST(VolumeCorrection, FollowsTable54D) {
  for (const Row& row : kGrid)
    EXPECT_NEAR(volume_factor({row.density}, {row.at_c}).value(), row.factor, 1e-6)
        << row.density << " " << row.at_c;
}

TEST(VolumeCorrection, IsOneAtFifteenDegrees) {
  EXPECT_EQ(volume_factor({850}, {15}), 1.0);
}

TEST(VolumeCorrection, BalancesWhatWasDrainedAndRefilled) {
  // Worked with the formula of API MPMS 11.1, 850 kg/m³.
  EXPECT_NEAR(volume_at(4.20, {60}, {15}, {850}).value(), 4.059112, 1e-6);
  EXPECT_NEAR(volume_at(4.20, {60}, {20}, {850}).value(), 4.074175, 1e-6);
  EXPECT_NEAR(volume_at(4.00, {20}, {15}, {850}).value(), 3.985212, 1e-6);
}

TEST(VolumeCorrection, AgreesInSizeWithAHandbooksLinearModel) {
  // engineeringtoolbox.com, volumetric temperature expansion: 100 l of oil from 20 to 40 °C grow by 1.4 l (0.00070 /°C).
  EXPECT_NEAR(volume_at(100, {20}, {40}, {850}).value() - 100, 1.4, 0.15);
}

TEST(VolumeCorrection, TellsWhatACheckAtAnotherTemperatureMeans) {
  EXPECT_NEAR(millilitres_per_degree(10, {40}, {850}).value(), 7.6, 0.05);
  EXPECT_NEAR((volume_at(10, {39}, {50}, {850}).value() - 10) * 1000, 84,
              0.7);  // worked with the same formula
}

TEST(VolumeCorrection, SaysNothingOutsideOfTheTablesLimits) {
  EXPECT_FALSE(volume_factor({799}, {20}));
  EXPECT_FALSE(volume_factor({1165}, {20}));
  EXPECT_FALSE(volume_factor({850}, {-51}));
  EXPECT_FALSE(volume_factor({850}, {151}));
  EXPECT_FALSE(volume_at(1, {20}, {200}, {850}));
}

TEST(VolumeCorrection, ADegreeAtTheEdgeOfTheTableReachesBeyondIt) {
  EXPECT_FALSE(millilitres_per_degree(10, {150}, {850}));
  EXPECT_FALSE(millilitres_per_degree(10, {-50}, {850}));
  EXPECT_TRUE(millilitres_per_degree(10, {149.5}, {850}));
  EXPECT_TRUE(millilitres_per_degree(10, {-49.5}, {850}));
}

}  // namespace
}  // namespace sumplog
