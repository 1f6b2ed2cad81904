#include "learn/synthetic_car.h"

#include <algorithm>
#include <cmath>

namespace sumplog::learn_test {
namespace {

constexpr std::int64_t kBegin_us = 1'700'000'000'000'000;
constexpr double kReadingError_c = 1.5;
constexpr int kIdentifiers = 500;
constexpr double kAnswersPerSecond = 8;

double at_second(const std::vector<double>& course, double t_s) {
  const double place = std::clamp(t_s, 0.0, static_cast<double>(course.size() - 1));
  const auto left = static_cast<std::size_t>(place);
  const std::size_t right = std::min(left + 1, course.size() - 1);
  return course[left] + (place - static_cast<double>(left)) * (course[right] - course[left]);
}

void put(std::vector<std::uint8_t>& bytes, const Field& field, std::uint32_t raw) {
  for (int i = 0; i < field.bit_length; ++i) {
    const bool big = field.byte_order == ByteOrder::big;
    const int position = big ? field.start_bit + field.bit_length - 1 - i : field.start_bit + i;
    const int shift = big ? 7 - position % 8 : position % 8;
    const auto byte = static_cast<std::size_t>(position / 8);
    const auto bit = static_cast<std::uint8_t>(1U << static_cast<unsigned>(shift));
    bytes[byte] = static_cast<std::uint8_t>((bytes[byte] & ~bit) |
                                            ((raw >> static_cast<unsigned>(i) & 1U) != 0 ? bit : 0));
  }
}

}  // namespace

double SyntheticCar::uniform(double low, double high) {
  return low + (high - low) * (Random::symmetric(random_.next()) + 1) / 2;
}
bool SyntheticCar::one_in(double share) {
  return uniform(0, 1) < share;
}

SyntheticCar::SyntheticCar(std::uint64_t seed)
    : random_(Random::at(seed, 77)), seed_(seed), begin_(at_micros(kBegin_us)) {
  draw_heat();
  tells_air_ = one_in(0.85);
  draw_broadcasts();
  const bool by_identifier = one_in(0.4);
  if (by_identifier) draw_identifiers();
  if (one_in(0.8)) place_truth();
}

void SyntheticCar::draw_heat() {
  const auto seconds = static_cast<std::size_t>(uniform(8 * 60, 20 * 60));
  const double air = uniform(-5, 30);
  const bool cold = one_in(0.75);
  double coolant = cold ? air + uniform(-1, 1) : uniform(40, 85);
  double fluid = cold ? air + uniform(-1, 1) : uniform(25, 0.85 * coolant);
  double housing = cold ? fluid : fluid - uniform(0, 5);
  double oil = cold ? air + uniform(-1, 1) : coolant - uniform(0, 15);
  double radiator = cold ? air : coolant - uniform(10, 30);
  double intake = air + (cold ? uniform(0, 2) : uniform(5, 20));
  double axle = cold ? air : fluid - uniform(0, 15);
  double battery = air + uniform(0, 3);
  double catalyst = cold ? air : 200;
  const double engine_w = uniform(4500, 8500), engine_j = uniform(50e3, 80e3), thermostat = uniform(84, 92);
  const double fluid_w = uniform(350, 800), fluid_j = uniform(13e3, 22e3), housing_j = uniform(28e3, 50e3);
  const double exchanger = one_in(0.5) ? uniform(10, 70) : 0, to_housing = uniform(50, 110);
  const double oil_j = uniform(9e3, 16e3), oil_exchange = uniform(50, 150), oil_w = uniform(100, 500);
  const bool drives = one_in(0.6);
  double left_s = uniform(60, 240), load = 1, speed = 0;
  int kind = 0;  // 0 park, 1 in gear and standing, 2 driving
  double target_speed = 0;
  for (std::size_t s = 0; s < seconds; ++s) {
    if (--left_s <= 0) {
      kind = drives ? static_cast<int>(uniform(0, 3)) : static_cast<int>(uniform(0, 1.4));
      left_s = uniform(40, 240);
      target_speed = kind == 2 ? uniform(20, 70) : 0;
    }
    load = kind == 0 ? 1 : kind == 1 ? uniform(1.6, 2.0) : 2 + target_speed / 18;
    if (static_cast<int>(s) % 7 == 0 && kind == 2)
      target_speed = std::clamp(target_speed + uniform(-8, 8), 10.0, 90.0);
    speed += std::clamp(target_speed - speed, -2.5, 2.0);
    const double rpm =
        kind == 2 ? 1000 + 22 * speed + uniform(-60, 60) : 700 + uniform(-12, 12) + (coolant < 40 ? 300 : 0);
    const double engine_load = kind == 2 ? 1.5 + speed / 40 : kind == 1 ? 1.15 : 1;
    const double open = std::clamp((coolant - thermostat) / 4, 0.0, 1.0);
    const double to_radiator = 350 * open * (1 + speed / 30);
    coolant += (engine_w * engine_load - 12 * (coolant - air) - to_radiator * (coolant - air) -
                exchanger * (coolant - fluid) - oil_exchange * (coolant - oil) * 0.5) /
               engine_j;
    fluid += (fluid_w * load + exchanger * (coolant - fluid) - to_housing * (fluid - housing) -
              (fluid > 80 ? 60 * (fluid - 80) : 0)) /
             fluid_j;
    housing +=
        (to_housing * (fluid - housing) + 6 * (coolant - housing) - (8 + speed / 6) * (housing - air)) /
        housing_j;
    oil += (oil_w * engine_load + oil_exchange * (coolant - oil) - 5 * (oil - air)) / oil_j;
    radiator += (open * 0.05 + 0.0015) * (coolant - 6 - radiator) - 0.002 * (radiator - air);
    intake += ((kind == 2 ? air + 6 : air + 0.35 * (coolant - air)) - intake) / 240;
    axle += kind == 2 ? 0.018 * speed / 40 - (axle - air) / 4000 : -(axle - air) / 4000;
    battery += (air + 12 - battery) / 3000;
    catalyst += ((kind == 2 ? 650 : 420) - catalyst) / 150;
    heat_.coolant.push_back(coolant);
    heat_.fluid.push_back(fluid);
    heat_.oil.push_back(oil);
    heat_.radiator.push_back(radiator);
    heat_.intake.push_back(intake);
    heat_.axle.push_back(axle);
    heat_.battery.push_back(battery);
    heat_.catalyst.push_back(catalyst);
    heat_.ambient.push_back(air + 0.6 * std::sin(static_cast<double>(s) / 300));
    heat_.rpm.push_back(rpm);
    heat_.speed.push_back(speed);
  }
  told_ = std::string(cold ? "cold" : "warm") + (drives ? ", driven, " : ", idle, ") +
          std::to_string(seconds / 60) + " min";
}

double SyntheticCar::fluid_c(TimePoint at) const {
  return at_second(heat_.fluid, in_seconds(at - begin_));
}

SyntheticCar::Part SyntheticCar::temperature_part(int start_bit, const std::vector<double>& course,
                                                  bool any_encoding) {
  Part part;
  const double kind = uniform(0, 1);
  int bits = 8;
  if (any_encoding && kind > 0.9 && start_bit % 8 == 0) {
    bits = 12;
    start_bit += 4;
  } else if (kind > 0.55) {
    bits = 16;
  }
  part.field = {start_bit, bits, kind > 0.8 && kind < 0.9 ? ByteOrder::little : ByteOrder::big, one_in(0.2)};
  // Half of the cars take what is common, half of them any that is known: the search may not live from its priors.
  const auto all = usual_encodings(bits, part.field.is_signed);
  std::vector<UsualEncoding> possible;
  const double values = static_cast<double>(1 << bits);
  const double low = part.field.is_signed ? -values / 2 : 0;
  for (const UsualEncoding& one : all)
    if (one.encoding.value(low) <= 0 && one.encoding.value(low + values - 1) >= 110) possible.push_back(one);
  if (possible.empty()) {
    part.field.is_signed = false;
    part.encoding = {values > 300 ? 0.1 : 1, -40, false, false};
  } else if (one_in(0.5)) {
    part.encoding = possible[random_.below(possible.size())].encoding;
  } else {
    double sum = 0;
    for (const UsualEncoding& one : possible) sum += one.share;
    double left = uniform(0, sum);
    part.encoding = possible.back().encoding;
    for (const UsualEncoding& one : possible)
      if ((left -= one.share) < 0) {
        part.encoding = one.encoding;
        break;
      }
  }
  part.value = [&course](double t) { return at_second(course, t); };
  part.noise = uniform(0.01, 0.08);
  part.rounds_down = one_in(0.4);
  return part;
}

SyntheticCar::Part SyntheticCar::other_part(int start_bit, int bytes, bool identifier) {
  Part part;
  part.field = {start_bit, 8 * bytes, one_in(0.8) ? ByteOrder::big : ByteOrder::little, false};
  const std::uint32_t mask = bytes == 1 ? 0xFF : 0xFFFF;
  const std::uint64_t key = random_.next();
  const double a = uniform(0, 1), period = uniform(0.5, 30);
  // Of 100: constants and flags are most of what a car sends; temperatures of all kinds are about one field in sixty.
  constexpr int kShares[] = {38, 12, 14, 8, 6, 5, 6, 3, 2, 1, 1, 2};
  static_assert(kShares[0] + kShares[1] + kShares[2] + kShares[3] + kShares[4] + kShares[5] + kShares[6] +
                    kShares[7] + kShares[8] + kShares[9] + kShares[10] + kShares[11] <=
                100);
  int kind = 0;
  // Behind identifiers lie mostly constants: part numbers, settings, learned values of a standing car.
  if (identifier && one_in(0.6)) {
    const auto value = static_cast<std::uint32_t>(key) & mask;
    part.bits = [value](double) { return value; };
    return part;
  }
  for (auto left = static_cast<int>(random_.below(98)); kind < 11 && left >= kShares[kind]; ++kind)
    left -= kShares[kind];
  switch (kind) {
    case 0: {  // a constant
      const auto value = static_cast<std::uint32_t>(key) & mask;
      part.bits = [value](double) { return value; };
      break;
    }
    case 1:  // a counter of messages, of seconds, of minutes
      part.bits = [period, mask](double t) { return static_cast<std::uint32_t>(t / period) & mask; };
      break;
    case 2:  // bits that flip now and then
      part.bits = [key, period](double t) {
        return static_cast<std::uint32_t>(Random::at(key, static_cast<std::uint64_t>(t / (period * 3)))) &
               0x11U;
      };
      break;
    case 3:  // noise
      part.bits = [key, mask](double t) {
        return static_cast<std::uint32_t>(Random::at(key, static_cast<std::uint64_t>(t * 1000))) & mask;
      };
      break;
    case 4:  // engine speed
      part.bits = [this, mask](double t) {
        return static_cast<std::uint32_t>(at_second(heat_.rpm, t) * 4) & mask;
      };
      break;
    case 5:  // a wheel
      part.bits = [this, mask, a](double t) {
        return static_cast<std::uint32_t>(at_second(heat_.speed, t) * (mask > 255 ? 100 : 1) *
                                          (0.99 + 0.02 * a)) &
               mask;
      };
      break;
    case 6:  // torque: engine speed and noise
      part.bits = [this, key, mask](double t) {
        const double noise = Random::symmetric(Random::at(key, static_cast<std::uint64_t>(t * 20)));
        return static_cast<std::uint32_t>(60 + at_second(heat_.rpm, t) / 40 + at_second(heat_.speed, t) +
                                          6 * noise) &
               mask;
      };
      break;
    case 7:  // supply voltage
      part.bits = [key, mask](double t) {
        const double noise = Random::symmetric(Random::at(key, static_cast<std::uint64_t>(t)));
        return static_cast<std::uint32_t>((13.9 + 0.15 * noise) * (mask > 255 ? 1000 : 10)) & mask;
      };
      break;
    case 8: {  // a level that wanders slowly
      const double base = uniform(40, 200), swing = uniform(1, 25), wave = uniform(100, 900);
      part.bits = [base, swing, wave, mask](double t) {
        return static_cast<std::uint32_t>(
                   std::max(0.0, base + swing * std::sin(t / wave) + 2 * std::sin(t / 13))) &
               mask;
      };
      break;
    }
    case 9:  // distance
      part.bits = [a, mask](double t) { return static_cast<std::uint32_t>(40000 * a + t / 9) & mask; };
      break;
    case 10: {  // a filtered quantity that settles: air mass, fuel trim, learned values
      const double from = uniform(20, 120), to = uniform(20, 120), tau = uniform(40, 400);
      part.bits = [from, to, tau, mask](double t) {
        return static_cast<std::uint32_t>(to + (from - to) * std::exp(-t / tau)) & mask;
      };
      break;
    }
    default: {  // another temperature
      const std::vector<double>* const courses[] = {&heat_.coolant, &heat_.coolant, &heat_.radiator,
                                                    &heat_.intake,  &heat_.ambient, &heat_.ambient,
                                                    &heat_.battery, &heat_.catalyst};
      const auto* const course = courses[random_.below(8)];
      if (course == &heat_.catalyst && bytes == 1) {
        part.bits = [course](double t) {
          return static_cast<std::uint32_t>(at_second(*course, t) / 4) & 0xFFU;
        };
        break;
      }
      Part temperature = temperature_part(start_bit, *course, false);
      if (temperature.field.bit_length > 8 * bytes) {
        temperature.field = {start_bit, 8, ByteOrder::big, false};
        temperature.encoding = {1, one_in(0.8) ? -40.0 : -50.0, false, false};
      }
      return temperature;
    }
  }
  return part;
}

void SyntheticCar::fill(Teller& teller, int from_bit) {
  const int end = (teller.source.length - (teller.checksum ? 1 : 0)) * 8;
  for (int bit = from_bit; bit + 8 <= end;) {
    const int bytes = bit + 16 <= end && one_in(0.4) ? 2 : 1;
    teller.parts.push_back(other_part(bit, bytes, !teller.source.is_broadcast()));
    bit += 8 * bytes;
  }
}

void SyntheticCar::draw_broadcasts() {
  const auto count = static_cast<int>(uniform(40, 150));
  std::uint32_t id = 0x0C0;
  for (int i = 0; i < count; ++i) {
    Teller teller;
    id += 1 + static_cast<std::uint32_t>(random_.below(9));
    teller.source.from = {BusName("can0"), standard_id(id), std::nullopt};
    teller.source.length = one_in(0.85) ? 8 : static_cast<std::uint8_t>(2 + random_.below(6));
    teller.period_s = uniform(0.4, 1.2);
    teller.checksum = teller.source.length > 4 && one_in(0.4);
    int from = 0;
    if (teller.checksum) {
      Part counter;
      counter.field = {0, 8, ByteOrder::big, false};
      const double period = teller.period_s;
      counter.bits = [period](double t) { return static_cast<std::uint32_t>(t / period) & 0x0FU; };
      teller.parts.push_back(counter);
      from = 8;
    }
    fill(teller, from);
    broadcasts_.push_back(std::move(teller));
  }
  // Strong rivals: engine oil in most cars, the oil of an axle in some.
  const auto add_rival = [&](const std::vector<double>& course) {
    Teller& teller = broadcasts_[random_.below(broadcasts_.size())];
    if (teller.source.length < 8) return;
    teller.parts.push_back(temperature_part(16, course, true));
  };
  if (one_in(0.6)) add_rival(heat_.oil);
  if (one_in(0.2)) add_rival(heat_.axle);
}

void SyntheticCar::draw_identifiers() {
  for (int i = 0; i < kIdentifiers; ++i) {
    Teller teller;
    teller.source.from = {BusName("can0"), standard_id(0x7E9), std::nullopt};
    teller.source.asked = Endpoint{BusName("can0"), standard_id(0x7E1), std::nullopt};
    teller.source.service = 0x22;
    teller.source.identifier = static_cast<std::uint32_t>(0x1000 + i);
    teller.source.length = static_cast<std::uint8_t>(1 + random_.below(6));
    fill(teller, 0);
    identifiers_.push_back(std::move(teller));
  }
}

void SyntheticCar::place_truth() {
  std::vector<Teller>& where = identifiers_.empty() ? broadcasts_ : identifiers_;
  const auto put_into = [&](std::vector<Teller>& tellers) {
    for (int attempt = 0; attempt < 200; ++attempt) {
      Teller& teller = tellers[random_.below(tellers.size())];
      if (truth_ && teller.source == truth_->source) continue;
      const int room = teller.source.length - (teller.checksum ? 2 : 0);
      if (room < 2) continue;
      const int first = teller.checksum ? 1 : 0;
      const int byte = first + static_cast<int>(random_.below(static_cast<std::uint64_t>(room - 1)));
      Part part = temperature_part(byte * 8, heat_.fluid, teller.source.is_broadcast());
      // Nothing else may stand in the same bits.
      for (auto one = teller.parts.begin(); one != teller.parts.end();)
        one = one->field.meets(part.field) ? teller.parts.erase(one) : one + 1;
      teller.parts.push_back(part);
      if (!truth_) truth_ = TruePlace{teller.source, part.field, part.encoding, part.rounds_down};
      return;
    }
  };
  put_into(where);
  if (one_in(0.25)) put_into(broadcasts_);  // a copy
}

std::vector<std::uint8_t> SyntheticCar::payload(const Teller& teller, double t_s, std::uint64_t index) const {
  std::vector<std::uint8_t> bytes(teller.source.length, 0);
  for (std::size_t i = 0; i < teller.parts.size(); ++i) {
    const Part& part = teller.parts[i];
    std::uint32_t raw = 0;
    if (part.value) {
      const std::uint64_t key =
          seed_ * 1'000'003 + teller.source.from.id.value * 31 + teller.source.identifier * 17 + i;
      const double value = part.value(t_s) + part.noise * 1.7 * Random::symmetric(Random::at(key, index));
      const double steps = (value - part.encoding.offset) / part.encoding.scale;
      const double whole = part.rounds_down ? std::floor(steps) : std::round(steps);
      const double values = static_cast<double>(std::int64_t{1} << part.field.bit_length);
      const double low = part.field.is_signed ? -values / 2 : 0;
      raw = static_cast<std::uint32_t>(static_cast<std::int64_t>(std::clamp(whole, low, low + values - 1)));
    } else {
      raw = part.bits(t_s);
    }
    put(bytes, part.field, raw);
  }
  if (teller.checksum) {
    std::uint8_t sum = 0;
    for (std::size_t i = 0; i + 1 < bytes.size(); ++i) sum = static_cast<std::uint8_t>(sum ^ bytes[i]);
    bytes.back() = sum;
  }
  return bytes;
}

void SyntheticCar::play(const std::function<void(const CanFrame&)>& on_frame,
                        const std::function<void(const Exchange&)>& on_answer) const {
  const auto end_s = static_cast<double>(heat_.seconds());
  for (const Teller& teller : broadcasts_) {
    std::uint64_t index = 0;
    for (double t = 0.01 * (teller.source.from.id.value % 50); t < end_s; t += teller.period_s) {
      const auto bytes = payload(teller, t, index++);
      on_frame(data_frame(begin_ + Duration{std::llround(t * 1e6)}, teller.source.from.bus,
                          teller.source.from.id, bytes));
    }
  }
  std::uint64_t asked = 0;
  for (double t = 0; t < end_s && !identifiers_.empty(); t += 1 / kAnswersPerSecond, ++asked) {
    const Teller& teller = identifiers_[asked % identifiers_.size()];
    Exchange exchange;
    exchange.asked_at = begin_ + Duration{std::llround(t * 1e6)};
    exchange.ended_at = exchange.asked_at + std::chrono::milliseconds{20};
    exchange.request = *teller.source.asked;
    exchange.unit = teller.source.from;
    exchange.asked = {teller.source.service, static_cast<std::uint8_t>(teller.source.identifier >> 8U),
                      static_cast<std::uint8_t>(teller.source.identifier)};
    exchange.response = exchange.asked;
    exchange.response.front() = static_cast<std::uint8_t>(teller.source.service + 0x40);
    const auto bytes = payload(teller, t, asked);
    exchange.response.insert(exchange.response.end(), bytes.begin(), bytes.end());
    exchange.result = ExchangeResult::answered;
    on_answer(exchange);
  }
}

Evidence SyntheticCar::evidence(int readings) const {
  Evidence evidence;
  for (std::size_t s = 0; s < heat_.seconds(); ++s) {
    const TimePoint at = begin_ + std::chrono::seconds{s};
    evidence.coolant_c.add(at, std::floor(heat_.coolant[s]));
    evidence.engine_rpm.add(at, heat_.rpm[s]);
    evidence.speed_kmh.add(at, std::floor(heat_.speed[s]));
    if (!tells_air_) continue;
    evidence.intake_c.add(at, std::floor(heat_.intake[s]));
    evidence.ambient_c.add(at, std::floor(heat_.ambient[s]));
  }
  const double last = static_cast<double>(heat_.seconds() - 1);
  for (int i = 0; i < readings; ++i) {
    const double share = readings == 2 ? (i == 0 ? 0.3 : 0.9) : 0.1 + 0.4 * i;
    const TimePoint at = begin_ + Duration{std::llround(share * last * 1e6)};
    const double error =
        kReadingError_c * Random::symmetric(Random::at(seed_, 1000 + static_cast<std::uint64_t>(i)));
    evidence.seen.push_back({at, fluid_c(at) + error, kReadingError_c});
  }
  return evidence;
}

}  // namespace sumplog::learn_test
