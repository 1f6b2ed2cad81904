#pragma once
#include <linux/rtnetlink.h>

#include <string>
#include <vector>

#include "core/item/result.h"
#include "io/file_descriptor.h"

namespace sumplog {

// What the files of CAN links share. src  rtnetlink(7)

/// A routing socket; it hears the groups, without blocking, where there are any.
[[nodiscard]] Result<FileDescriptor> open_netlink(unsigned groups, const std::string& interface);

/// The kernel's description of an interface: one RTM_NEWLINK message.
/// err  no such interface · the kernel does not answer
[[nodiscard]] Result<std::vector<char>> describe_link(const std::string& interface);

/// The attributes behind a fixed header, one after the other.
template <class Visit>
void for_attributes(const rtattr* first, int length, Visit visit) {
  for (const rtattr* a = first; RTA_OK(a, length); a = RTA_NEXT(a, length)) visit(*a);
}

/// The attributes inside one.
template <class Visit>
void for_attributes_of(const rtattr& outer, Visit visit) {
  for_attributes(static_cast<const rtattr*>(RTA_DATA(&outer)), static_cast<int>(RTA_PAYLOAD(&outer)), visit);
}

}  // namespace sumplog
