// The exponential fit beside GSL's nonlinear least squares, on made-up courses: ours must never fit worse, and where GSL
// finds the same minimum, the figures must be the same.
//   against_gsl [CASES]
// GSL: GNU Scientific Library, gsl_multifit_nlinear (Debian libgsl-dev); it is asked while the test runs.

#include <gsl/gsl_multifit_nlinear.h>
#include <gsl/gsl_version.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <random>
#include <vector>

#include "core/thermal/exponential_fit.h"

namespace {

using namespace sumplog;

struct Data {
  std::vector<CourseSample> samples;
};

int residuals(const gsl_vector* x, void* data, gsl_vector* f) {
  const auto& samples = static_cast<const Data*>(data)->samples;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const double y = gsl_vector_get(x, 1) + (gsl_vector_get(x, 0) - gsl_vector_get(x, 1)) *
                                                std::exp(-std::exp(gsl_vector_get(x, 2)) * samples[i].at);
    gsl_vector_set(f, i, (y - samples[i].value) / samples[i].sd);
  }
  return GSL_SUCCESS;
}

int slopes(const gsl_vector* x, void* data, gsl_matrix* out) {
  const auto& samples = static_cast<const Data*>(data)->samples;
  const double rate = std::exp(gsl_vector_get(x, 2));
  const double drop = gsl_vector_get(x, 0) - gsl_vector_get(x, 1);
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const double left = std::exp(-rate * samples[i].at);
    gsl_matrix_set(out, i, 0, left / samples[i].sd);
    gsl_matrix_set(out, i, 1, (1 - left) / samples[i].sd);
    gsl_matrix_set(out, i, 2, -drop * rate * samples[i].at * left / samples[i].sd);
  }
  return GSL_SUCCESS;
}

struct Gsl {
  double start = 0, end = 0, log_rate = 0, misfit = 0;
  bool converged = false;
};

Gsl by_gsl(Data& data, double start, double end, double log_rate) {
  gsl_multifit_nlinear_parameters parameters = gsl_multifit_nlinear_default_parameters();
  gsl_multifit_nlinear_fdf problem{};
  problem.f = residuals;
  problem.df = slopes;
  problem.n = data.samples.size();
  problem.p = 3;
  problem.params = &data;
  auto* work = gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &parameters, problem.n, problem.p);
  double first[3] = {start, end, log_rate};
  const auto begin = gsl_vector_view_array(first, 3);
  gsl_multifit_nlinear_init(&begin.vector, &problem, work);
  int info = 0;
  const int status = gsl_multifit_nlinear_driver(500, 1e-12, 1e-12, 1e-12, nullptr, nullptr, &info, work);
  const gsl_vector* x = gsl_multifit_nlinear_position(work);
  const gsl_vector* f = gsl_multifit_nlinear_residual(work);
  Gsl out{gsl_vector_get(x, 0), gsl_vector_get(x, 1), gsl_vector_get(x, 2), 0, status == GSL_SUCCESS};
  for (std::size_t i = 0; i < problem.n; ++i) out.misfit += gsl_vector_get(f, i) * gsl_vector_get(f, i);
  gsl_multifit_nlinear_free(work);
  return out;
}

bool near(double a, double b, double share) {
  return std::abs(a - b) <= share * (1 + std::abs(a));
}

}  // namespace

int main(int argc, char** argv) {
  const int cases = argc > 1 ? std::atoi(argv[1]) : 300;
  gsl_set_error_handler_off();
  std::mt19937 random(20251125);  // one stream of numbers on every machine
  const auto between = [&](double low, double high) {
    return low + (high - low) * static_cast<double>(random()) / 4294967296.0;
  };
  int same = 0;
  int better = 0;
  int without = 0;
  for (int i = 0; i < cases; ++i) {
    Data data;
    const double start = between(60, 95);
    const double end = between(5, 30);
    const double minutes = between(30, 200);
    const double every = between(2, 20);
    const int count = static_cast<int>(between(6, 40));
    const bool rounded = between(0, 1) < 0.5;
    for (int k = 0; k < count; ++k) {
      double value = end + (start - end) * std::exp(-k * every / minutes) + between(-0.5, 0.5);
      if (rounded) value = std::round(value);
      data.samples.push_back({k * every, value, between(0.3, 1)});
    }
    constexpr RateRange kRange{1e-5, 10};
    const auto ours = fit_course({data.samples, {}, {}, {}}, kRange);
    const Gsl theirs = by_gsl(data, start, end, std::log(1 / minutes));
    if (!ours) {
      // Nothing is said where the best rate is an end of the range, as for a straight line. GSL must
      // have left the range too, or stopped on its way there.
      const auto slowest = fit_at_rate({data.samples, {}, {}, {}}, kRange.low);
      const auto fastest = fit_at_rate({data.samples, {}, {}, {}}, kRange.high);
      const double rate = std::exp(theirs.log_rate);
      const bool beyond = rate <= kRange.low || rate >= kRange.high ||
                          (slowest && slowest->misfit <= theirs.misfit) ||
                          (fastest && fastest->misfit <= theirs.misfit);
      if (!beyond) {
        std::printf("case %d: ours says nothing, GSL rate %g misfit %g\n", i, rate, theirs.misfit);
        return 1;
      }
      ++without;
      continue;
    }
    if (ours->misfit > theirs.misfit * (1 + 1e-9)) {
      std::printf("case %d: ours %.12g is worse than GSL's %.12g\n", i, ours->misfit, theirs.misfit);
      return 1;
    }
    if (!theirs.converged || theirs.misfit > ours->misfit * (1 + 1e-7)) {
      ++better;
      continue;
    }
    const bool agrees = near(ours->course.start, theirs.start, 1e-4) &&
                        near(ours->course.end, theirs.end, 1e-3) &&
                        near(std::log(ours->course.rate), theirs.log_rate, 1e-4);
    if (!agrees) {
      std::printf("case %d: ours %.9g %.9g %.9g, GSL %.9g %.9g %.9g\n", i, ours->course.start,
                  ours->course.end, std::log(ours->course.rate), theirs.start, theirs.end, theirs.log_rate);
      return 1;
    }
    ++same;
  }
  std::printf("%d cases: %d the same as GSL %s, %d where ours fits better, %d without a fit\n", cases, same,
              gsl_version, better, without);
  return same * 10 >= cases * 8 ? 0 : 1;  // an empty comparison is no success
}
