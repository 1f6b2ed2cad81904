#pragma once
#include <algorithm>
#include <cstddef>
#include <deque>
#include <future>
#include <thread>
#include <utility>
#include <vector>

namespace sumplog {

/// Does `work` for each input, as many at once as the computer has processors, and gives the results to `take` in the order of
/// the inputs, in the caller's thread.
/// in   work  called from several threads at once; what it throws comes out of this call
template <class Input, class Work, class Take>
void side_by_side(const std::vector<Input>& inputs, Work work, Take take) {
  using Result = decltype(work(inputs.front()));
  const std::size_t at_once = std::max(1U, std::thread::hardware_concurrency());
  std::deque<std::future<Result>> begun;
  std::size_t next = 0;
  while (next < inputs.size() || !begun.empty()) {
    while (next < inputs.size() && begun.size() < at_once) {
      const Input& input = inputs[next++];
      begun.push_back(std::async(std::launch::async, [&work, &input] { return work(input); }));
    }
    Result result = begun.front().get();
    begun.pop_front();
    take(std::move(result));
  }
}

}  // namespace sumplog
