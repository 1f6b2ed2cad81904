#include "core/record/job_record.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::HasSubstr;

TEST(JobRecord, KilometresAndCountsHaveOneDecimal) {
  JobRecord record;
  record.odometer_typed_km = 84210;
  record.odometer_read_km = 84210.36;
  PartRecord part;
  part.part = "filter";
  part.count = 2;
  record.parts.push_back(part);
  const std::string line = json(record);
  EXPECT_THAT(line, HasSubstr(R"("odometer_typed_km":84210.0,)"));
  EXPECT_THAT(line, HasSubstr(R"("odometer_read_km":84210.4,)"));
  EXPECT_THAT(line, HasSubstr(R"({"part":"filter","count":2.0})"));
}

}  // namespace
}  // namespace sumplog
