#include "hostile/core_memory.h"

#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <new>

namespace {

bool core_works = false;
std::size_t held = 0;
std::size_t most_held = 0;

/// Before every block: how long it is, and whether the core asked for it.
struct alignas(std::max_align_t) Label {
  std::size_t size = 0;
  bool of_core = false;
};

void* labelled(std::size_t size) noexcept {
  auto* const label = static_cast<Label*>(std::malloc(sizeof(Label) + size));
  if (label == nullptr) return nullptr;
  label->size = size;
  label->of_core = core_works;
  if (core_works) held += size;
  return label + 1;
}
void give_back(void* block) noexcept {
  if (block == nullptr) return;
  auto* const label = static_cast<Label*>(block) - 1;
  if (label->of_core) held -= label->size;
  std::free(label);
}

}  // namespace

void* operator new(std::size_t size) {
  void* const block = labelled(size);
  if (block == nullptr) throw std::bad_alloc();
  return block;
}
void* operator new[](std::size_t size) {
  return operator new(size);
}
void* operator new(std::size_t size, const std::nothrow_t&) noexcept {
  return labelled(size);
}
void* operator new[](std::size_t size, const std::nothrow_t&) noexcept {
  return labelled(size);
}
void operator delete(void* block) noexcept {
  give_back(block);
}
void operator delete[](void* block) noexcept {
  give_back(block);
}
void operator delete(void* block, std::size_t) noexcept {
  give_back(block);
}
void operator delete[](void* block, std::size_t) noexcept {
  give_back(block);
}
void operator delete(void* block, const std::nothrow_t&) noexcept {
  give_back(block);
}
void operator delete[](void* block, const std::nothrow_t&) noexcept {
  give_back(block);
}

namespace sumplog::hostile_test {

CoreMemory::CoreMemory() {
  held = most_held = 0;
}
CoreMemory::~CoreMemory() {
  core_works = false;
}

hostile::MemoryWatch CoreMemory::watch() {
  return {[] { core_works = true; },
          [] {
            core_works = false;
            most_held = std::max(most_held, held);
          }};
}

std::size_t CoreMemory::most() const {
  return most_held;
}

}  // namespace sumplog::hostile_test
