"""When each sentence of an episode was spoken: by the as-run log where its marks stand in it, else by its words. Pure.

A mark fires as its sentence begins, so what came on air then tells when that was. Marks and changes on air are paired in
their order, as many as can be; between two pairs the words share the time, at a natural pace at most, for who is slower
than that has stopped to say something else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from moondesk.script.marks import Spoken, count_words, read_text
from moondesk.script.records import Cue
from moondesk.service.programme.as_run import Run
from moondesk.service.store.records import LoggedStep

#: Two pairs between which she would have spoken faster than this many times her rate were not paired rightly.
MOST_HASTE = 2.0
#: Slower than this share of her rate she has paused.
LEAST_PACE = 0.75


@dataclass(frozen=True, kw_only=True)
class SpokenItem:
    """An item of an episode. text: as it is kept, with its marks."""

    title: str
    text: str
    kind: str = ""


@dataclass(frozen=True, kw_only=True)
class TimedSentence:
    """begin, end: seconds from when the edition went on air; item: number of its item, from 0; picture: item of the
    rundown that stood as it began, None where none is known."""

    text: str
    item: int
    paragraph: int
    begin: float
    end: float
    picture: int | None = None


@dataclass(frozen=True)
class Timing:
    """sentences: in order. paired: how many marks were found in the log; marks: of how many."""

    sentences: tuple[TimedSentence, ...]
    paired: int = 0
    marks: int = 0


@dataclass(frozen=True)
class _Mark:
    """at: how much is spoken before it, in words."""

    cue: Cue
    picture: int | None
    at: float


def time_sentences(
    items: Sequence[SpokenItem], numbers: Mapping[int, int | None], runs: Sequence[Run], words_per_minute: float
) -> Timing:
    """numbers: items of the rundown by the numbers that marks call them by; runs: what the audience saw, in order."""
    said, marks = _read(items, numbers)
    total = sum(words for *_, words in said)
    rate = words_per_minute / 60
    pairs = _without_haste(_pair(marks, _changes(runs)), rate)
    begins, at, sentences = _clock(pairs, total, rate), 0.0, []
    for text, item, paragraph, picture, words in said:
        begin, end = begins(at), begins(at + words, is_end=True)
        sentences.append(
            TimedSentence(text=text, item=item, paragraph=paragraph, begin=begin, end=end, picture=picture)
        )
        at += words
    return Timing(tuple(sentences), len(pairs), len(marks))


def _read(
    items: Sequence[SpokenItem], numbers: Mapping[int, int | None]
) -> tuple[list[tuple[str, int, int, int | None, float]], list[_Mark]]:
    """Sentences as (text, item, paragraph, picture, words), and the marks between them."""
    said: list[tuple[str, int, int, int | None, float]] = []
    marks: list[_Mark] = []
    at, picture = 0.0, None
    for n, item in enumerate(items):
        open_sentence = -1
        for piece in read_text(item.text):
            if isinstance(piece, Cue):
                picture = numbers.get(piece.picture) if piece.picture else picture
                marks.append(_Mark(piece, picture, at))
            elif isinstance(piece, Spoken):
                words = float(max(count_words(piece.text), 1))
                text = " ".join(piece.text.split())
                if piece.sentence == open_sentence:  # a mark stands within it
                    before = said.pop()
                    said.append((f"{before[0]} {text}", n, before[2], before[3], before[4] + words))
                else:
                    said.append((text, n, piece.paragraph, picture, words))
                open_sentence, at = piece.sentence, at + words
    return said, marks


def _changes(runs: Sequence[Run]) -> list[tuple[float, LoggedStep | None, LoggedStep]]:
    """(seconds, what stood before, what came)."""
    if not runs:
        return []
    begun = runs[0].begin_utc
    before: list[LoggedStep | None] = [None, *(run.step for run in runs[:-1])]
    return [
        ((run.begin_utc - begun).total_seconds(), former, run.step) for former, run in zip(before, runs, strict=True)
    ]


def _pair(
    marks: Sequence[_Mark], changes: Sequence[tuple[float, LoggedStep | None, LoggedStep]]
) -> list[tuple[float, float]]:
    """(words before, seconds) of the most pairs whose order is the same on both sides."""
    rows, columns = len(marks), len(changes)
    best = [[0] * (columns + 1) for _ in range(rows + 1)]
    for i in range(rows - 1, -1, -1):
        for k in range(columns - 1, -1, -1):
            together = 1 + best[i + 1][k + 1] if _fits(marks[i], *changes[k][1:]) else 0
            best[i][k] = max(together, best[i + 1][k], best[i][k + 1])
    pairs, i, k = [], 0, 0
    while i < rows and k < columns:
        if _fits(marks[i], *changes[k][1:]) and best[i][k] == 1 + best[i + 1][k + 1]:
            pairs.append((marks[i].at, changes[k][0]))
            i, k = i + 1, k + 1
        elif best[i][k] == best[i + 1][k]:
            i += 1
        else:
            k += 1
    return pairs


def _fits(mark: _Mark, before: LoggedStep | None, step: LoggedStep) -> bool:
    """Whether a change on air is what a mark asks for."""
    if mark.cue.show == "nothing":
        return step.kind == "blank"
    if mark.picture is None or step.item_id != mark.picture:
        return False
    is_new = before is None or before.item_id != step.item_id
    kinds = {kind for kind, _ in step.layers}
    match mark.cue.show:
        case "as sent":
            return is_new or (step.view == "as_sent" and (before is None or before.view != "as_sent"))
        case "tomorrow":
            return step.view == "relit" and (is_new or before is None or before.view != "relit")
        case "turned":
            return step.view == "upright" and (is_new or before is None or before.view != "upright")
        case "light" | "close":
            return _names(step.feature, mark.cue.feature) and (before is None or before.feature != step.feature)
        case "name":
            return any(_names(title, mark.cue.feature) for _, title in step.layers) and (
                before is None or is_new or len(step.layers) > len(before.layers)
            )
        case "named":
            return "feature" in kinds and (before is None or is_new or "feature" not in {k for k, _ in before.layers})
        case "lines":
            return "lines" in kinds and (before is None or is_new or "lines" not in {k for k, _ in before.layers})
        case _:
            return is_new


def _names(title: str, feature: str) -> bool:
    """Whether a layer's title, which may have a local form in brackets, is a feature's."""
    return bool(feature) and (title == feature or title.startswith(f"{feature} ("))


def _without_haste(pairs: Sequence[tuple[float, float]], rate: float) -> list[tuple[float, float]]:
    kept: list[tuple[float, float]] = []
    for words, seconds in pairs:
        if kept and (words - kept[-1][0]) > MOST_HASTE * rate * (seconds - kept[-1][1]):
            continue
        kept.append((words, seconds))
    return kept


class _clock:  # noqa: N801  it is called like a function
    """Seconds by how many words were spoken."""

    def __init__(self, pairs: Sequence[tuple[float, float]], total: float, rate: float) -> None:
        first = pairs[0] if pairs else (0.0, 0.0)
        self._pairs = [(0.0, max(0.0, first[1] - first[0] / rate)), *(p for p in pairs if p[0] > 0)]
        if pairs and pairs[0][0] == 0:
            self._pairs[0] = pairs[0]
        last = self._pairs[-1]
        self._pairs.append((max(total, last[0] + 1), last[1] + max(total - last[0], 1) / rate))
        self._rate = rate

    def __call__(self, words: float, is_end: bool = False) -> float:
        """is_end: of the words before, where a pause follows."""
        for (a, begin), (b, end) in zip(self._pairs, self._pairs[1:], strict=False):
            if words < b or (is_end and words == b):
                pace = max((b - a) / max(end - begin, 1e-6), LEAST_PACE * self._rate)
                return begin + (words - a) / pace
        return self._pairs[-1][1]
