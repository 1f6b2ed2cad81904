#include "core/isotp/addressing.h"

#include <gtest/gtest.h>

#include "core/isotp/frames.h"

namespace sumplog {
namespace {
using namespace isotp_words;

Endpoint at(CanId id, std::optional<std::uint8_t> address = std::nullopt) {
  return {kBus, id, address};
}
Endpoint at11(std::uint32_t id, std::optional<std::uint8_t> address = std::nullopt) {
  return at(standard_id(id), address);
}
Endpoint at29(std::uint32_t id, std::optional<std::uint8_t> address = std::nullopt) {
  return at(extended_id(id), address);
}

void expect_class(const AddressBook& book, CanId id, Role role, AddressingMode mode) {
  const auto seen = book.classify(id);
  ASSERT_TRUE(seen) << ecu_text(id);
  EXPECT_EQ(seen->role, role) << ecu_text(id);
  EXPECT_EQ(seen->mode, mode) << ecu_text(id);
}

TEST(AddressBook, KnowsThe11BitIdentifiersOfIso15765Part4) {
  const AddressBook book;
  expect_class(book, standard_id(0x7DF), Role::functional_request, AddressingMode::normal);
  for (std::uint32_t unit = 0; unit < 8; ++unit) {
    expect_class(book, standard_id(0x7E0 + unit), Role::physical_request, AddressingMode::normal);
    expect_class(book, standard_id(0x7E8 + unit), Role::response, AddressingMode::normal);
    EXPECT_EQ(book.request_to(at11(0x7E8 + unit)), at11(0x7E0 + unit));
    EXPECT_EQ(book.response_of(at11(0x7E0 + unit)), at11(0x7E8 + unit));
  }
}

TEST(AddressBook, KnowsThe29BitIdentifiersOfIso15765Part4) {
  // ISO 15765-4: functional 18DB33F1, request 18DAxxF1, response 18DAF1xx
  const AddressBook book;
  expect_class(book, extended_id(0x18DB33F1), Role::functional_request, AddressingMode::normal);
  expect_class(book, extended_id(0x18DA10F1), Role::physical_request, AddressingMode::normal);
  expect_class(book, extended_id(0x18DAF110), Role::response, AddressingMode::normal);
  EXPECT_EQ(book.request_to(at29(0x18DAF110)), at29(0x18DA10F1));
  EXPECT_EQ(book.request_to(at29(0x18DAF118)), at29(0x18DA18F1));
  EXPECT_EQ(book.response_of(at29(0x18DA18F1)), at29(0x18DAF118));
}

TEST(AddressBook, KnowsMixedAddressingOn29Bits) {
  // ISO 15765-2, mixed addressing: 18CE target source physical, 18CD functional; the data begin with N_AE
  const AddressBook book;
  expect_class(book, extended_id(0x18CE10F1), Role::physical_request, AddressingMode::mixed);
  expect_class(book, extended_id(0x18CEF110), Role::response, AddressingMode::mixed);
  expect_class(book, extended_id(0x18CD33F1), Role::functional_request, AddressingMode::mixed);
  EXPECT_EQ(book.request_to(at29(0x18CEF110, 0x55)), at29(0x18CE10F1, 0x55));
  EXPECT_EQ(book.response_of(at29(0x18CE10F1, 0x55)), at29(0x18CEF110, 0x55));
}

TEST(AddressBook, KnowsNothingElse) {
  const AddressBook book;
  for (const std::uint32_t id : {0x000U, 0x123U, 0x7DEU, 0x7F0U, 0x7FFU, 0x612U}) {
    EXPECT_FALSE(book.classify(standard_id(id))) << std::hex << id;
  }
  for (const std::uint32_t id : {0x7E8U, 0x7DFU, 0x18FEF803U, 0x18DA1018U, 0x18DAF1F1U, 0x18DB3310U,
                                 0x1CDA10F1U, 0x0CDAF110U, 0x18CE1018U, 0x18EAFFF9U}) {
    EXPECT_FALSE(book.classify(extended_id(id))) << std::hex << id;
  }
}

TEST(AddressBook, AsksNobodyInPlaceOfSomethingThatIsNoUnit) {
  const AddressBook book;
  EXPECT_FALSE(book.request_to(at11(0x7E0)));
  EXPECT_FALSE(book.request_to(at11(0x7DF)));
  EXPECT_FALSE(book.request_to(at11(0x123)));
  EXPECT_FALSE(book.request_to(at29(0x18DA10F1)));
  EXPECT_FALSE(book.response_of(at11(0x7E8)));
  EXPECT_FALSE(book.response_of(at11(0x7DF)));
  EXPECT_FALSE(book.response_of(at29(0x18DB33F1)));
  EXPECT_FALSE(book.response_of(at11(0x123)));
}

TEST(AddressBook, KeepsTheBusOfTheEndpoint) {
  const AddressBook book;
  const Endpoint unit{BusName{"can7"}, standard_id(0x7E9), std::nullopt};
  EXPECT_EQ(book.request_to(unit)->bus, BusName{"can7"});
}

TEST(AddressBook, ANamedPairJoinsTheIdentifiersOfTheStandard) {
  const AddressBook book(
      {{standard_id(0x6A0), standard_id(0x6A8), AddressingMode::normal, std::nullopt, std::nullopt}});
  expect_class(book, standard_id(0x6A0), Role::physical_request, AddressingMode::normal);
  expect_class(book, standard_id(0x6A8), Role::response, AddressingMode::normal);
  EXPECT_EQ(book.request_to(at11(0x6A8)), at11(0x6A0));
  EXPECT_EQ(book.response_of(at11(0x6A0)), at11(0x6A8));
  EXPECT_EQ(book.request_to(at11(0x7E9)), at11(0x7E1));
  EXPECT_EQ(book.named().size(), 1U);
}

TEST(AddressBook, ANamedPairRulesOverTheStandard) {
  const AddressBook book(
      {{standard_id(0x7E1), standard_id(0x7D9), AddressingMode::normal, std::nullopt, std::nullopt}});
  EXPECT_EQ(book.response_of(at11(0x7E1)), at11(0x7D9));
  EXPECT_EQ(book.request_to(at11(0x7D9)), at11(0x7E1));
}

TEST(AddressBook, ExtendedAddressingTellsUnitsApartByTheByte) {
  // Two units behind the same identifiers: the byte of requests is the unit, that of responses the tester.
  const AddressBook book({{standard_id(0x6F1), standard_id(0x612), AddressingMode::extended, 0x12, 0xF1},
                          {standard_id(0x6F1), standard_id(0x618), AddressingMode::extended, 0x18, 0xF1}});
  expect_class(book, standard_id(0x6F1), Role::physical_request, AddressingMode::extended);
  expect_class(book, standard_id(0x618), Role::response, AddressingMode::extended);
  EXPECT_EQ(book.request_to(at11(0x612, 0xF1)), at11(0x6F1, 0x12));
  EXPECT_EQ(book.request_to(at11(0x618, 0xF1)), at11(0x6F1, 0x18));
  EXPECT_FALSE(book.request_to(at11(0x618, 0xF2)));
  EXPECT_EQ(book.response_of(at11(0x6F1, 0x18)), at11(0x618, 0xF1));
  EXPECT_FALSE(book.response_of(at11(0x6F1, 0x19)));
  EXPECT_TRUE(book.may_answer(at11(0x6F1, 0x12), at11(0x612, 0xF1)));
  EXPECT_FALSE(book.may_answer(at11(0x6F1, 0x12), at11(0x618, 0xF1)));
  EXPECT_FALSE(book.may_answer(at11(0x6F1, 0x12), at11(0x612, 0xF2)));
}

TEST(AddressBook, AByteThatAPairLeavesOpenIsAnyByte) {
  const AddressBook book(
      {{standard_id(0x6F1), standard_id(0x612), AddressingMode::extended, 0x12, std::nullopt}});
  EXPECT_EQ(book.request_to(at11(0x612, 0xF1)), at11(0x6F1, 0x12));
  EXPECT_TRUE(book.may_answer(at11(0x6F1, 0x12), at11(0x612, 0xF3)));
  EXPECT_EQ(book.response_of(at11(0x6F1, 0x12)), at11(0x612));
}

TEST(AddressBook, AUnitAnswersItsOwnPhysicalRequestAlone) {
  const AddressBook book;
  EXPECT_TRUE(book.may_answer(at11(0x7E1), at11(0x7E9)));
  EXPECT_FALSE(book.may_answer(at11(0x7E1), at11(0x7E8)));
  EXPECT_FALSE(book.may_answer(at11(0x7E1), at29(0x18DAF118)));
  EXPECT_TRUE(book.may_answer(at29(0x18DA18F1), at29(0x18DAF118)));
  EXPECT_FALSE(book.may_answer(at29(0x18DA18F1), at29(0x18DAF110)));
  EXPECT_FALSE(book.may_answer(at29(0x18CE18F1, 0x55), at29(0x18CEF118, 0x56)));
  EXPECT_TRUE(book.may_answer(at29(0x18CE18F1, 0x55), at29(0x18CEF118, 0x55)));
}

TEST(AddressBook, EveryUnitOfTheBusMayAnswerAFunctionalRequestOfItsIdentifierLength) {
  const AddressBook book;
  EXPECT_TRUE(book.may_answer(at11(0x7DF), at11(0x7E8)));
  EXPECT_TRUE(book.may_answer(at11(0x7DF), at11(0x7EF)));
  EXPECT_FALSE(book.may_answer(at11(0x7DF), at29(0x18DAF110)));
  EXPECT_TRUE(book.may_answer(at29(0x18DB33F1), at29(0x18DAF110)));
  EXPECT_FALSE(book.may_answer(at29(0x18DB33F1), at11(0x7E8)));
  EXPECT_FALSE(book.may_answer(at11(0x7DF), at11(0x7E0)));
  EXPECT_FALSE(book.may_answer(at11(0x7DF), at11(0x123)));
}

TEST(AddressBook, NobodyAnswersOnAnotherBusOrWithoutARequest) {
  const AddressBook book;
  const Endpoint other{BusName{"can1"}, standard_id(0x7E9), std::nullopt};
  EXPECT_FALSE(book.may_answer(at11(0x7E1), other));
  EXPECT_FALSE(book.may_answer(at11(0x7DF), other));
  EXPECT_FALSE(book.may_answer(at11(0x7E9), at11(0x7E9)));
  EXPECT_FALSE(book.may_answer(at11(0x123), at11(0x7E9)));
}

TEST(AddressBook, ARequestWithAByteThatNobodyNamesIsAnsweredByNobody) {
  const AddressBook book({{standard_id(0x6F1), standard_id(0x612), AddressingMode::extended, 0x12, 0xF1}});
  EXPECT_FALSE(book.may_answer(at11(0x6F1, 0x13), at11(0x612, 0xF1)));
}

TEST(UnitAddress, MeetsAnotherPairWithWhichItSharesAnIdentifier) {
  const UnitAddress one{standard_id(0x700), standard_id(0x708), AddressingMode::normal, {}, {}};
  const auto pair = [](std::uint32_t request, std::uint32_t response) {
    return UnitAddress{standard_id(request), standard_id(response), AddressingMode::normal, {}, {}};
  };
  EXPECT_FALSE(one.meets(one));
  EXPECT_FALSE(one.meets(pair(0x701, 0x709)));
  EXPECT_TRUE(one.meets(pair(0x700, 0x709)));
  EXPECT_TRUE(one.meets(pair(0x701, 0x708)));
  EXPECT_TRUE(one.meets(pair(0x708, 0x709)));
  EXPECT_TRUE(one.meets(pair(0x701, 0x700)));
  auto by_byte = one;
  by_byte.request_address = 0x12;
  EXPECT_TRUE(one.meets(by_byte));
}

TEST(EcuText, NamesUnitsByTheirIdentifier) {
  EXPECT_EQ(ecu_text(standard_id(0x7E9)), "7E9");
  EXPECT_EQ(ecu_text(standard_id(0x001)), "001");
  EXPECT_EQ(ecu_text(extended_id(0x18DAF118)), "18DAF118");
  EXPECT_EQ(ecu_text(extended_id(0x0CF00203)), "0CF00203");
  EXPECT_EQ(ecu_text(standard_id(0x6F1), 0x12), "6F1/12");
  EXPECT_EQ(ecu_text(standard_id(0x6F1), 0x05), "6F1/05");
}

}  // namespace
}  // namespace sumplog
