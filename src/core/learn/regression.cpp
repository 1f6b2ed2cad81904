#include "core/learn/regression.h"

#include <cmath>
#include <numeric>
#include <utility>

namespace sumplog {
namespace {

constexpr double kNothingNew = 1e-9;  // length of what is left of a regressor

void centre(std::vector<double>& v) {
  const double mean = std::accumulate(v.begin(), v.end(), 0.0) / static_cast<double>(v.size());
  for (double& one : v) one -= mean;
}
double dot(const std::vector<double>& a, const std::vector<double>& b) {
  return std::inner_product(a.begin(), a.end(), b.begin(), 0.0);
}
void subtract(std::vector<double>& from, const std::vector<double>& what, double factor) {
  for (std::size_t i = 0; i < from.size(); ++i) from[i] -= factor * what[i];
}

}  // namespace

Regression::Regression(std::vector<double> target) : left_(std::move(target)) {
  centre(left_);
}

double Regression::add(std::vector<double> regressor) {
  centre(regressor);
  for (const std::vector<double>& one : taken_) subtract(regressor, one, dot(regressor, one));
  const double length = std::sqrt(dot(regressor, regressor));
  if (length < kNothingNew) return 0;
  for (double& v : regressor) v /= length;
  const double part = dot(left_, regressor);
  subtract(left_, regressor, part);
  taken_.push_back(std::move(regressor));
  return part / length;
}

double Regression::left() const {
  return dot(left_, left_);
}

}  // namespace sumplog
