#include <gmock/gmock.h>

#include <cstdlib>

#include "app/program_run.h"
#include "io/base64.h"
#include "io/sha256.h"

namespace sumplog {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

constexpr char kBefore[] =
    "env -u SUMPLOG_BLESS TZ=UTC";  // the program refuses a setting that it does not know

std::string scenario() {
  return std::string(SUMPLOG_SOURCE) + "/captures/demo-9/whole-job/scenario.toml";
}

/// The shipped whole job, written anew, and reports of it.
class ReportCommandTest : public ::testing::Test {
 protected:
  static void SetUpTestSuite() {
    made = std::make_unique<ScratchFolder>();
    const Ran ran = run_program("simulate " + scenario() + " --job " + (*made / "job.log").string(), kBefore);
    ASSERT_EQ(ran.status, 0) << ran.err;
  }
  static void TearDownTestSuite() { made.reset(); }

  void SetUp() override { fs::copy_file(*made / "job.log", folder / "job.log"); }
  Ran report(const std::string& more = {}) const {
    return run_program("report " + (folder / "job.log").string() + " -o " + out() + " " + more, kBefore);
  }
  [[nodiscard]] std::string out() const { return (folder / "report.html").string(); }
  [[nodiscard]] std::string page() const { return text_of_file(out()); }
  [[nodiscard]] std::string sheet() const {
    const std::string html = page();
    const std::size_t begin = html.find("<section class=\"sheet\">");
    const std::size_t end = html.find("</section>", begin);
    if (end == std::string::npos) return {};
    return html.substr(begin, end - begin) + "</section>\n";
  }
  /// A job that is open, with what is entered.
  std::string new_job(const std::vector<std::string>& entries) const {
    const Ran begun =
        run_program("jobs new --plate 'AB 1' --decoder demo-9 --data " + (folder / "data").string());
    EXPECT_EQ(begun.status, 0) << begun.err;
    const std::string job =
        begun.out.substr(begun.out.find(": ") + 2, begun.out.find('\n') - begun.out.find(": ") - 2);
    for (const std::string& entry : entries) {
      const Ran ran = run_program("record " + job + " " + entry);
      EXPECT_EQ(ran.status, 0) << ran.err;
    }
    return job;
  }

  ScratchFolder folder;
  static std::unique_ptr<ScratchFolder> made;
};
std::unique_ptr<ScratchFolder> ReportCommandTest::made;

// captures/demo-9/whole-job/customer_sheet.html: what the customer of the shipped job gets.
// SUMPLOG_BLESS=1 writes it anew; the commit then says why.
TEST_F(ReportCommandTest, GoldenSheetOfTheWholeJob) {
  const Ran ran = report();
  ASSERT_EQ(ran.status, 0) << ran.err;
  EXPECT_EQ(ran.out, "report: " + out() + "\n");
  const std::string path = std::string(SUMPLOG_SOURCE) + "/captures/demo-9/whole-job/customer_sheet.html";
  if (const char* bless = std::getenv("SUMPLOG_BLESS"); bless != nullptr && std::string(bless) == "1")
    std::ofstream(path, std::ios::binary) << sheet();
  EXPECT_EQ(sheet(), text_of_file(path));
}

TEST_F(ReportCommandTest, TellsWhatTheSheetOfTheJobTells) {
  ASSERT_EQ(report().status, 0);
  const std::string job = (folder / "job.log").string();
  const std::string verified = run_program("verify " + job + " --json").out;
  const std::size_t at = verified.find("\"fingerprint\":\"") + 15;
  EXPECT_THAT(page(), HasSubstr("--fingerprint " + verified.substr(at, 64)));
  const std::string shown = run_program("jobs show " + job).out;
  EXPECT_THAT(shown, HasSubstr("out 11.66 L, in 12.00 L"));
  EXPECT_THAT(sheet(), HasSubstr("11.66 L</td>\n<td class=\"short\">12.00 L"));
  EXPECT_THAT(page(), HasSubstr("id=\"level-1-desc\""));
}

TEST_F(ReportCommandTest, DoesNotWriteOverAFileUnlessAsked) {
  (void)folder.file("report.html", "something of mine\n");
  const Ran refused = report();
  EXPECT_EQ(refused.status, 2);
  EXPECT_THAT(refused.err, HasSubstr("exists already; give another name, or add --replace"));
  EXPECT_EQ(page(), "something of mine\n");
  EXPECT_EQ(report("--replace").status, 0);
  EXPECT_THAT(page(), HasSubstr("For the technician"));
}

TEST_F(ReportCommandTest, NeverWritesOverAJobFile) {
  const std::string job = (folder / "job.log").string();
  const std::string before = text_of_file(job);
  const Ran ran = run_program("report " + job + " --replace -o " + job);
  EXPECT_EQ(ran.status, 2);
  EXPECT_THAT(ran.err, HasSubstr("is a job file"));
  EXPECT_TRUE(text_of_file(job) == before);
}

TEST_F(ReportCommandTest, SaysWhichJobThereIsNotAndWhereItCannotWrite) {
  const Ran unknown = run_program("report 3f2a -o " + out() + " --data " + (folder / "data").string());
  EXPECT_EQ(unknown.status, 2);
  EXPECT_THAT(unknown.err, HasSubstr("no job begins with '3f2a'"));
  EXPECT_FALSE(fs::exists(out()));
  const Ran nowhere = run_program("report " + (folder / "job.log").string() + " -o " +
                                  (folder / "nothing" / "report.html").string());
  EXPECT_EQ(nowhere.status, 1);
  EXPECT_THAT(nowhere.err, HasSubstr("nothing/report.html"));
  EXPECT_EQ(run_program("report " + (folder / "job.log").string()).status, 2) << "no name for the report";
}

TEST_F(ReportCommandTest, AnOpenJobGetsAReportThatSaysSo) {
  const std::string job = new_job({"fluid_out litres=4.5 temp_c=38 part=drain"});
  const Ran ran = run_program("report " + job + " -o " + out());
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_THAT(ran.out, HasSubstr("the job is still open"));
  EXPECT_THAT(sheet(), HasSubstr("Still open: what comes later is not on this sheet."));
  EXPECT_THAT(sheet(), HasSubstr("AB 1"));
  EXPECT_THAT(page(), HasSubstr("There is no reading of the fluid temperature."));
}

TEST_F(ReportCommandTest, AChangedJobGetsAReportThatSaysSoAndAnError) {
  std::string text = text_of_file(folder / "job.log");
  const std::size_t at = text.find("XX 0000");
  ASSERT_NE(at, std::string::npos);
  text[at] = 'Y';
  (void)folder.file("job.log", text);
  const Ran ran = report();
  EXPECT_EQ(ran.status, 1);
  EXPECT_THAT(ran.err, HasSubstr("changed: in lines"));
  EXPECT_THAT(sheet(), HasSubstr("cannot be relied on"));
  EXPECT_THAT(page(), Not(HasSubstr("Conditions kept")));
}

TEST_F(ReportCommandTest, EmbedsPhotosAndNamesThoseThatAreNotWhole) {
  const auto jpeg = [](const char* what) {
    return "\xff\xd8\xff\xe0 invented: " + std::string(what) + "\xff\xd9";
  };
  std::vector<std::string> entries;
  for (const char* const name : {"whole", "gone", "other"})
    entries.push_back("photo file=" + folder.file(std::string(name) + ".jpg", jpeg(name)) + " of=" + name);
  const std::string job = new_job(entries);
  const auto beside = [&](const char* name) {  // as the photo store names it
    Sha256 hash;
    hash.update(jpeg(name));
    return job.substr(0, job.size() - 4) + "-" + hash.hex().substr(0, 12) + ".jpg";
  };
  ASSERT_TRUE(fs::remove(beside("gone")));
  std::ofstream(beside("other"), std::ios::binary | std::ios::app) << "x";
  const Ran ran = run_program("report " + job + " -o " + out());
  EXPECT_EQ(ran.status, 1);
  EXPECT_THAT(ran.err, HasSubstr(fs::path(beside("gone")).filename().string() + "\" is missing"));
  EXPECT_THAT(ran.err, HasSubstr(fs::path(beside("other")).filename().string() + "\" was altered"));
  EXPECT_THAT(sheet(), HasSubstr("data:image/jpeg;base64," + base64(jpeg("whole"))));
  EXPECT_THAT(sheet(), HasSubstr("&quot; is missing"));
  EXPECT_THAT(sheet(), HasSubstr("&quot; was altered"));
}

TEST_F(ReportCommandTest, TellsAMachineWhereTheReportIs) {
  const Ran ran = report("--json --fahrenheit");
  EXPECT_EQ(ran.status, 0);
  EXPECT_THAT(ran.out, HasSubstr("{\"report\":\"" + out() +
                                 "\",\"job\":\"00000000000000000000000000000000\",\"seals\":\"closed\""));
  EXPECT_THAT(sheet(), HasSubstr("97 °F when it came out"));
}

// RFC 4648, 10.
TEST(Base64, GivesTheTestVectorsOfItsStandard) {
  EXPECT_EQ(base64(""), "");
  EXPECT_EQ(base64("f"), "Zg==");
  EXPECT_EQ(base64("fo"), "Zm8=");
  EXPECT_EQ(base64("foobar"), "Zm9vYmFy");
  const std::string large(7U << 20, 'a');  // longer than one piece
  EXPECT_EQ(base64(large).find('='), base64(large).size() - 2) << "padded at the end alone";
}

}  // namespace
}  // namespace sumplog
