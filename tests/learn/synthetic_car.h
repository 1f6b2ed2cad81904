#pragma once
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "core/diagnostics/exchange.h"
#include "core/item/frame.h"
#include "core/learn/encoding.h"
#include "core/learn/evidence.h"
#include "core/learn/field.h"
#include "core/vehicle/random.h"

namespace sumplog::learn_test {

/// How the temperatures of a made-up car went, one value a second. Four bodies that exchange heat, with figures drawn anew for
/// each car; it shares no code with what is tested, nor with the simulated vehicle.
struct HeatCourse {
  std::vector<double> coolant, fluid, oil, radiator, intake, axle, battery, catalyst, ambient, rpm, speed;
  [[nodiscard]] std::size_t seconds() const { return fluid.size(); }
};

/// Where the truth stands.
struct TruePlace {
  ByteSource source{};
  Field field{};
  Encoding encoding{};
  bool rounds_down = false;
};

/// A made-up car: 40 to 150 broadcast identifiers, their neighbours, and in some cars 500 data identifiers. Everything comes
/// from the seed. All of it is invented.
class SyntheticCar {
 public:
  explicit SyntheticCar(std::uint64_t seed);
  SyntheticCar(const SyntheticCar&) = delete;  // its parts point into it
  SyntheticCar& operator=(const SyntheticCar&) = delete;

  /// The capture of its warm-up, frame by frame and answer by answer.
  void play(const std::function<void(const CanFrame&)>& on_frame,
            const std::function<void(const Exchange&)>& on_answer) const;
  /// What the standard parameters tell, and `readings` by hand, each off by up to 1.5 °C either way.
  [[nodiscard]] Evidence evidence(int readings) const;

  [[nodiscard]] const std::optional<TruePlace>& truth() const {
    return truth_;
  }  ///< nothing: the car does not tell it
  [[nodiscard]] TimePoint begin() const { return begin_; }
  [[nodiscard]] double fluid_c(TimePoint at) const;
  [[nodiscard]] const std::string& told() const { return told_; }  ///< for a person: what kind of a car

 private:
  /// Some bits of a payload and what stands in them.
  struct Part {
    Field field{};
    Encoding encoding{};
    std::function<double(double)> value;  ///< at a time in seconds; nothing: `bits`
    std::function<std::uint32_t(double)> bits;
    bool rounds_down = false;
    double noise = 0;  ///< added to `value`, either way
  };
  struct Teller {
    ByteSource source{};
    double period_s = 1;
    std::vector<Part> parts;
    bool checksum = false;  ///< last byte: exclusive-or of the others
  };
  void draw_heat();
  void draw_broadcasts();
  void draw_identifiers();
  void place_truth();
  Part temperature_part(int start_bit, const std::vector<double>& course, bool any_encoding);
  Part other_part(int start_bit, int bytes, bool identifier);
  void fill(Teller& teller, int from_bit);
  [[nodiscard]] std::vector<std::uint8_t> payload(const Teller& teller, double t_s,
                                                  std::uint64_t index) const;
  double uniform(double low, double high);
  bool one_in(double share);

  Random random_;
  std::uint64_t seed_;
  TimePoint begin_{};
  HeatCourse heat_;
  std::vector<Teller> broadcasts_, identifiers_;
  std::optional<TruePlace> truth_;
  std::string told_;
  bool tells_air_ = true;
};

}  // namespace sumplog::learn_test
