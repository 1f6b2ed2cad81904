// The exchange models beside a numerical integration of the mixing equations, on made-up jobs: drains, fills and exchanges in any
// order.
//   exchange_against_gsl [CASES]
// GSL: GNU Scientific Library, gsl_odeiv2 (Debian libgsl-dev); it is asked while the test runs. It integrates what flows through
// each of N well-mixed tanks in a row: dC1/dt = −q C1 / v, dCk/dt = q (C(k−1) − Ck) / v. One tank must be what our well-mixed model says;
// several must lie between it and ideal displacement.

#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <gsl/gsl_version.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <random>
#include <vector>

#include "core/fluid/exchange_models.h"

namespace {

using sumplog::FluidContents;

constexpr double kTolerance = 1e-8;

/// N tanks of the same volume; old[k] is the share of old fluid in the tank k.
struct Tanks {
  explicit Tanks(std::size_t n, double litres) : old(n, 1.0), volume_l(litres / static_cast<double>(n)) {}
  std::vector<double> old;
  double volume_l;
  [[nodiscard]] double old_l() const {
    double sum = 0;
    for (const double one : old) sum += one * volume_l;
    return sum;
  }
};

int slope(double, const double y[], double out[], void* data) {
  const auto& tanks = *static_cast<const Tanks*>(data);
  for (std::size_t k = 0; k < tanks.old.size(); ++k)
    out[k] = ((k == 0 ? 0.0 : y[k - 1]) - y[k]) / tanks.volume_l;  // one litre in a unit of time
  return GSL_SUCCESS;
}

/// So many litres through all tanks.
bool flow(Tanks& tanks, double litres) {
  gsl_odeiv2_system system{slope, nullptr, tanks.old.size(), &tanks};
  gsl_odeiv2_driver* driver =
      gsl_odeiv2_driver_alloc_y_new(&system, gsl_odeiv2_step_rk8pd, 1e-3, 1e-12, 1e-12);
  double t = 0;
  std::vector<double> y = tanks.old;
  const int status = gsl_odeiv2_driver_apply(driver, &t, litres, y.data());
  gsl_odeiv2_driver_free(driver);
  tanks.old = y;
  return status == GSL_SUCCESS;
}

/// One tank whose content may run out and be filled again, and a dead volume that stays old.
bool one_tank(std::mt19937& random, int& compared) {
  std::uniform_real_distribution<double> any(0, 1);
  const double fill_l = 3 + 12 * any(random);
  const double dead_l = any(random) < 0.3 ? 0 : 0.4 * fill_l * any(random);
  FluidContents ours(FluidContents::Mixing::well_mixed, fill_l, dead_l);
  Tanks tank(1, fill_l - dead_l);
  double missing_l = 0;
  for (int step = 0; step < 12; ++step) {
    const double litres = (fill_l - dead_l) * 0.5 * any(random);
    switch (random() % 3) {
      case 0: {
        const double drained_l = std::min(litres, tank.volume_l - 0.1);
        if (drained_l <= 0) break;
        ours.drain(drained_l);
        tank.volume_l -= drained_l;  // the mixture runs out: its composition stays
        missing_l += drained_l;
        break;
      }
      case 1: {
        const double filled_l = std::min(litres, missing_l);
        (void)ours.fill(filled_l);
        tank.old[0] *= tank.volume_l / (tank.volume_l + filled_l);
        tank.volume_l += filled_l;
        missing_l -= filled_l;
        break;
      }
      default:
        ours.exchange(litres);
        if (!flow(tank, litres)) return false;
    }
    const double all_l = tank.volume_l + dead_l;
    const double share_new = std::min(1 - (tank.old_l() + dead_l) / all_l, sumplog::kMostNew);
    if (std::abs(share_new - ours.share_new()) > kTolerance) {
      std::printf("well mixed: ours %.10f, GSL %.10f (fill %.3f L, dead %.3f L)\n", ours.share_new(),
                  share_new, fill_l, dead_l);
      return false;
    }
    ++compared;
  }
  return true;
}

bool several_tanks(std::mt19937& random, int& compared) {
  std::uniform_real_distribution<double> any(0, 1);
  const double fill_l = 3 + 12 * any(random);
  FluidContents mixed(FluidContents::Mixing::well_mixed, fill_l, 0);
  FluidContents ideal(FluidContents::Mixing::ideal_displacement, fill_l, 0);
  Tanks tanks(2 + random() % 9, fill_l);
  for (int step = 0; step < 10; ++step) {
    const double litres = fill_l * 0.4 * any(random);
    mixed.exchange(litres);
    ideal.exchange(litres);
    if (!flow(tanks, litres)) return false;
    const double share_new = std::min(1 - tanks.old_l() / fill_l, sumplog::kMostNew);
    if (share_new < mixed.share_new() - kTolerance || share_new > ideal.share_new() + kTolerance) {
      std::printf("%zu tanks: %.8f is not between %.8f and %.8f\n", tanks.old.size(), share_new,
                  mixed.share_new(), ideal.share_new());
      return false;
    }
    ++compared;
  }
  return true;
}

}  // namespace

int main(int argc, char** argv) {
  const int cases = argc > 1 ? std::atoi(argv[1]) : 300;
  std::mt19937 random(20231114);  // NOLINT(cert-msc32-c,cert-msc51-cpp): the same jobs each time
  gsl_set_error_handler_off();
  int compared = 0;
  for (int i = 0; i < cases; ++i)
    if (!one_tank(random, compared) || !several_tanks(random, compared)) return 1;
  std::printf("GSL %s: %d shares of new fluid compared\n", gsl_version, compared);
  return compared > 0 ? 0 : 1;
}
