"""The manual's pages as passages, and the search for words in them, which pages and command line share."""

import math
import re
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parents[1] / "manual"
# The page that lists the others.
INDEX = "README"
# What was new is seldom what somebody looks for.
LAST = "changes"
# Okapi BM25 with its customary constants (Robertson and Zaragoza, The Probabilistic Relevance Framework, 2009).
SATURATION, LENGTH_SHARE = 1.2, 0.75
# A word of a heading counts as so many of the text.
HEADING_WEIGHT = 4
# A passage whose heading was asked for word by word counts so many times.
HEADING_ASKED = 2.0
# Passages that fit less than this share of the best are not shown.
LEAST_SHARE = 0.35
_HEADING = re.compile(r"#{1,6} ")
# Alarms that name their probe, by the passage of the paste's.
_OF_A_PROBE = re.compile(r"^[\w./-]+ (?=probe \w+$|unit unknown$)|(?<=^no )[\w./-]+(?= data$)")


@dataclass(frozen=True, slots=True)
class Passage:
    """What stands under one heading. page: its file without suffix; title: that page's; text: Markdown."""

    page: str
    title: str
    heading: str
    anchor: str
    text: str


def page_names() -> list[str]:
    """The pages in the order of the index, which comes first."""
    return [INDEX, *dict.fromkeys(re.findall(r"\]\(([\w-]+)\.md\)", page_text(INDEX)))]


@cache
def page_text(name: str) -> str:
    """A page as Markdown. name: one of ``page_names``."""
    return (FOLDER / f"{name}.md").read_text(encoding="utf-8")


def anchor_of(heading: str, taken: Counter[str]) -> str:
    """The anchor of a heading, as sites that show Markdown make it. taken: those of the page so far, added to.

    >>> anchor_of("When the rig's clock is wrong", Counter())
    'when-the-rigs-clock-is-wrong'
    """
    slug = re.sub(r"[^\w\- ]", "", heading.casefold()).strip().replace(" ", "-")
    taken[slug] += 1
    return slug if taken[slug] == 1 else f"{slug}-{taken[slug] - 1}"


def alarm_address(name: str) -> str:
    """The address of the passage that tells of an alarm.

    >>> alarm_address("no wall data")
    '/manual/alarms#no-paste-data'
    """
    return f"/manual/alarms#{anchor_of(_OF_A_PROBE.sub(_paste, name), Counter())}"


def _paste(found: re.Match[str]) -> str:
    return "paste " if found[0].endswith(" ") else "paste"


def passages_of(name: str) -> list[Passage]:
    """What stands under each heading of a page, that under its title first."""
    taken: Counter[str] = Counter()
    parts: list[tuple[str, list[str]]] = []
    fenced = False
    for line in page_text(name).splitlines():
        fenced ^= line.startswith("```")
        if not fenced and _HEADING.match(line):
            parts.append((line.lstrip("#").strip(), []))
        else:
            parts[-1][1].append(line)
    title = parts[0][0]
    return [
        Passage(name, title, heading, anchor_of(heading, taken), "\n".join(lines).strip()) for heading, lines in parts
    ]


@cache
def passages() -> tuple[Passage, ...]:
    """All passages of the manual but those of its index."""
    return tuple(passage for name in page_names()[1:] for passage in passages_of(name))


def search(words: str) -> list[Passage]:
    """The passages that tell of these words, the nearest first; a whole sentence will do. Empty where none does."""
    asked = set(_tokens(words))
    if not asked:
        return []
    sentence = f" {' '.join(_tokens(words))} "
    scored = zip(_scores(asked), passages(), strict=True)
    ranked = sorted(
        ((score * _heading_factor(found.heading, sentence), -place) for place, (score, found) in enumerate(scored)),
        reverse=True,
    )
    best = ranked[0][0]
    return [passages()[-place] for score, place in ranked if score > 0.0 and score >= LEAST_SHARE * best]


def _heading_factor(heading: str, sentence: str) -> float:
    """How much more a passage counts whose heading was asked for as a whole, or begins a sentence of refusal."""
    words = _tokens(heading)
    whole = f" {' '.join(words)} "
    return HEADING_ASKED if whole == sentence or (len(words) > 2 and whole in sentence) else 1.0


def _scores(asked: set[str]) -> list[float]:
    counted = _counted()
    usual = sum(lengths for _, lengths in counted) / len(counted)
    scores = [0.0] * len(counted)
    for word in asked:
        # The beginning of a word will do, but for one or two letters, with which many begin.
        often = [
            sum(times for token, times in tokens.items() if token.startswith(word)) if len(word) > 2 else tokens[word]
            for tokens, _ in counted
        ]
        having = sum(times > 0 for times in often)
        rarity = math.log(1.0 + (len(counted) - having + 0.5) / (having + 0.5))
        for place, (times, (_, length)) in enumerate(zip(often, counted, strict=True)):
            long = 1.0 - LENGTH_SHARE + LENGTH_SHARE * length / usual
            scores[place] += rarity * times * (SATURATION + 1.0) / (times + SATURATION * long)
    return [score * (0.3 if found.page == LAST else 1.0) for score, found in zip(scores, passages(), strict=True)]


@cache
def _counted() -> list[tuple[Counter[str], int]]:
    """For each passage how often it has each word, and how many it has."""
    every = []
    for found in passages():
        tokens = _tokens(found.heading) * HEADING_WEIGHT + _tokens(found.title) + _tokens(found.text)
        every.append((Counter(tokens), len(tokens)))
    return every


def _tokens(text: str) -> list[str]:
    """Words and numbers, folded, and without the s of a plural."""
    return [
        word[:-1] if len(word) > 3 and word.endswith("s") else word for word in re.findall(r"[^\W_]+", text.casefold())
    ]
