#pragma once

namespace sumplog {

/// Several lambdas as one visitor for std::visit.
template <class... F>
struct Overloaded : F... {
  using F::operator()...;
};
template <class... F>
Overloaded(F...) -> Overloaded<F...>;  // clang 14 deduces no aggregates

}  // namespace sumplog
