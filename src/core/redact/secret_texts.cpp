#include "core/redact/secret_texts.h"

#include <algorithm>
#include <cstddef>

#include "core/item/compared_form.h"

namespace sumplog {
namespace {

constexpr std::size_t kLong =
    5;  // own choice: from so many characters on a secret is looked for inside of words too
constexpr std::size_t kShortestWord = 4;         // own choice: "Pan" is a name and a part
constexpr std::string_view kBetween = " -._\t";  // what people put between the characters of a plate

/// The characters of a text that count, and where each stands.
struct Form {
  std::string text;
  std::vector<std::size_t> places;
};

Form form_of(std::string_view text) {
  Form form;
  char before = 0;
  for (std::size_t at = 0; at < text.size(); ++at) {
    const auto one = compared_byte(before, text[at]);
    before = text[at];
    if (!one && kBetween.find(text[at]) != std::string_view::npos) continue;
    // Any other character that does not count parts what stands on both sides of it.
    form.text += one.value_or('\n');
    form.places.push_back(at);
  }
  return form;
}

bool counts(std::string_view text, std::size_t at) {
  return at < text.size() && compared_byte(0, text[at]).has_value();
}

void cover(std::string& text, const std::vector<std::string>& secrets) {
  const Form form = form_of(text);
  for (const std::string& secret : secrets) {
    for (std::size_t at = form.text.find(secret); at != std::string::npos;
         at = form.text.find(secret, at + 1)) {
      const std::size_t first = form.places[at];
      const std::size_t last = form.places[at + secret.size() - 1];
      const bool bounded = (first == 0 || !counts(text, first - 1)) && !counts(text, last + 1);
      if (secret.size() < kLong && !bounded) continue;
      for (std::size_t i = first; i <= last; ++i)
        if (counts(text, i)) text[i] = 'x';
    }
  }
}

void add_once(std::vector<std::string>& list, std::string form) {
  if (std::find(list.begin(), list.end(), form) == list.end()) list.push_back(std::move(form));
}

}  // namespace

void SecretTexts::add(std::string_view text) {
  std::string form = compared_form(text);
  const bool has_letter = form.find_first_not_of("0123456789") != std::string::npos;
  if (form.size() >= kLong && has_letter) add_once(unmistakable_, form);
  if (form.size() > 1) add_once(whole_, std::move(form));
}

void SecretTexts::add_name(std::string_view name) {
  std::string form = compared_form(name);
  std::size_t words = 0;
  for (std::string_view rest = name; !rest.empty();) {
    const std::size_t end = std::min(rest.find_first_of(" ,;/&+-._\t\n"), rest.size());
    std::string word = compared_form(rest.substr(0, end));
    words += word.empty() ? 0U : 1U;
    if (word.size() >= kShortestWord) add_once(words_, std::move(word));
    rest.remove_prefix(std::min(end + 1, rest.size()));
  }
  if (form.size() >= kLong && words > 1) add_once(unmistakable_, form);
  if (form.size() > 1) add_once(whole_, std::move(form));
}

std::string SecretTexts::covered_unmistakable(std::string_view text) const {
  std::string out(text);
  cover(out, unmistakable_);
  return out;
}

std::string SecretTexts::covered(std::string_view text) const {
  std::string out(text);
  cover(out, whole_);
  cover(out, words_);
  return out;
}

}  // namespace sumplog
