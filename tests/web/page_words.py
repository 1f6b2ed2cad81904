#!/usr/bin/env python3
"""The page's message files: the same keys and places to fill in each, none missing, none left over, and no phrase of the
   program that the program no longer says."""

import glob
import json
import os
import re

SOURCE = os.environ["SOURCE"]
PAGE = os.path.join(SOURCE, "src", "page")
wrong = []


def read(path):
    with open(path, encoding="utf-8") as file:
        return file.read()


def places(text):
    return sorted(re.findall(r"\{(\w+)\}", text))


def no_doubles(pairs):
    keys = [key for key, _ in pairs]
    wrong.extend(f"'{key}' stands twice" for key in set(keys) if keys.count(key) > 1)
    return dict(pairs)


files = {os.path.basename(path): json.loads(read(path), object_pairs_hook=no_doubles) for path in sorted(glob.glob(os.path.join(PAGE, "messages", "*.json")))}
english = files["en.json"]
if len(files) < 2:
    wrong.append("there is only one language")
for name, file in files.items():
    for part in ("page", "program"):
        wrong += [f"{name}: '{key}' is not in en.json" for key in file[part].keys() - english[part].keys()]
        wrong += [f"{name}: '{key}' is missing" for key in english[part].keys() - file[part].keys()]
        wrong += [f"{name}: '{key}' has other places than in en.json" for key in file[part].keys() & english[part].keys()
                  if places(file[part][key]) != places(english[part][key])]
        wrong += [f"{name}: '{key}' is empty" for key, text in file[part].items() if not text.strip()]

# What the page asks for: whole keys, and beginnings of keys that it completes.
scripts = "\n".join(read(path) for path in glob.glob(os.path.join(PAGE, "js", "*.js")))
markup = read(os.path.join(PAGE, "index.html"))
asked = set(re.findall(r'\bt\(\s*"([^"]+)"', scripts)) | set(re.findall(r'data-t="([^"]+)"', markup))
wrong += [f"the page asks for '{key}', which is in no message file" for key in asked - english["page"].keys()]
begun = set(re.findall(r"\bt\(`([a-z_]+)\$\{", scripts))
named = set(re.findall(r'"([a-z_0-9]+)"', scripts))
for key in english["page"].keys() - asked - named:
    if not any(key.startswith(beginning) for beginning in begun):
        wrong.append(f"nobody asks for '{key}'")

# A phrase of the program that is translated must still be one. It may be put together from parts: three words in a row of each
# fixed part stand somewhere in the sources.
said = re.sub(r'"\s*\n\s*"', "", "\n".join(read(path) for pattern in ("src/core/**/*.cpp", "src/core/**/*.h", "src/app/**/*.cpp", "src/io/**/*.cpp", "decoders/**/*.toml")
                                          for path in glob.glob(os.path.join(SOURCE, pattern), recursive=True)))
for phrase in english["program"]:
    for part in re.split(r"\{\d\}", phrase):
        words = part.strip(" ,;:.()").split()
        rows = [" ".join(words[i:i + 3]) for i in range(max(1, len(words) - 2))]
        if len(part.strip()) > 3 and not any(row in said for row in rows):
            wrong.append(f"the program does not say '{part.strip()}' (of '{phrase}')")

# Words of the inside that a technician should not meet.
for name, file in files.items():
    wrong += [f"{name}: '{text}' uses a word of the inside" for text in file["page"].values() if re.search(r"\b(cue|guard|seal|journal|daemon)s?\b", text, re.I)]

for one in wrong:
    print(one)
print(f"{len(english['page'])} words and {len(english['program'])} phrases in {len(files)} languages, {len(wrong)} mistakes")
raise SystemExit(bool(wrong))
