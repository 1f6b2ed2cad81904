#pragma once
#include <algorithm>
#include <cstddef>
#include <deque>
#include <future>
#include <thread>
#include <utility>
#include <vector>

namespace sumplog {

/// Does `work` for each input on several threads, and gives the results to `take` in the order of the inputs, in the caller's
/// thread. Some inputs ahead of the one that is taken are begun, so that a slow one does not hold up the others.
/// in   work  called from several threads at once; what it throws comes out of this call
///      take  false: the rest is not begun any more, and what was begun is waited for
///      at_once  how many are at work or wait to be taken; 0: two for each processor
template <class Input, class Work, class Take>
void side_by_side(const std::vector<Input>& inputs, Work work, Take take, std::size_t at_once = 0) {
  using Result = decltype(work(inputs.front()));
  if (at_once == 0) at_once = std::size_t{2} * std::max(1U, std::thread::hardware_concurrency());
  std::deque<std::future<Result>> begun;
  std::size_t next = 0;
  while (next < inputs.size() || !begun.empty()) {
    while (next < inputs.size() && begun.size() < at_once) {
      const Input& input = inputs[next++];
      begun.push_back(std::async(std::launch::async, [&work, &input] { return work(input); }));
    }
    Result result = begun.front().get();
    begun.pop_front();
    if (!take(std::move(result))) return;
  }
}

}  // namespace sumplog
