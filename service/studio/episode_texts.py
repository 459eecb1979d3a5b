"""An edition's episode as the desk works in it: what its sentences are held against, what its marks show, what of it may be
spoken."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

from moondesk.drawing.frame_names import find_mark
from moondesk.moon.catalogue import all_features
from moondesk.notes.claim_verdicts import Checked
from moondesk.notes.sky_picture import sky_picture
from moondesk.records import NotFound
from moondesk.script.marks import read_text
from moondesk.script.records import Cue
from moondesk.service.programme.air_plan import AirPlan
from moondesk.service.programme.credit import credit_words
from moondesk.service.programme.episode_check import CheckedText, Ground, Stand, check_text, claim_about, stands_before
from moondesk.service.programme.episode_steps import TAKE, CueStep, steps_of, wanted_frames, with_views
from moondesk.service.programme.evenings_to_come import air_of, evening_air
from moondesk.service.programme.frame_request import MOST_FEATURES
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.programme.picture_notes import time_taken
from moondesk.service.programme.spoken_text import WORDS_A_MINUTE, may_be_spoken, unnamed_of, withheld_of
from moondesk.service.store import episodes
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.editions import list_editions
from moondesk.service.store.episode_items import EpisodeItem, KeptEpisode
from moondesk.service.store.frame_choices import FrameChoice, choose_frame, frame_choice
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import Edition, ListedPicture
from moondesk.service.store.rundown_items import Rundown, RundownItem
from moondesk.service.store.rundowns import rundown
from moondesk.service.store.tours import keep_tour, kept_tour
from moondesk.service.studio import Studio
from moondesk.tour.views import View, ViewKind, check_tour

CLOSER = "Take the script's names again: it gets a close-up."
COMING = NotFound("mark", "Frames are being made.", "Look again in a moment.")
#: Claims that were checked already, by their words and what they were checked against: a page asks with every pause in
#: the typing. And what stands behind them: annotations take some time to read. The oldest are forgotten first.
_checked: OrderedDict[tuple[str, str], Checked] = OrderedDict()
_grounds: OrderedDict[tuple[str, str], Ground] = OrderedDict()
_KEPT, _KEPT_GROUNDS = 4_000, 40


@dataclass(frozen=True)
class EpisodeDesk:
    """Of one edition, within one request."""

    studio: Studio
    edition: Edition

    @cached_property
    def kept(self) -> KeptEpisode:
        """The episode as it stands, all pictures of the rundown numbered."""
        storage, found = self.studio.storage, self._rundown
        kept = episodes.episode(storage, self.edition.id)
        if not {item.id for item in found.items} <= set(kept.numbers.values()):
            episodes.number_pictures(storage, self.edition.id, [item.id for item in found.items])
            kept = episodes.episode(storage, self.edition.id)
        return kept

    @cached_property
    def rate(self) -> int:
        """Words a minute."""
        return self.kept.words_per_minute or episodes.last_rate(self.studio.storage) or WORDS_A_MINUTE

    @cached_property
    def evening_utc(self) -> datetime:
        """The instant at which the evening's Moon is looked at: on air, of the edition's last evening."""
        plan = self.edition.plan
        air = air_of(list_editions(self.studio.storage), self.studio.calendar)
        if plan.evenings:
            return evening_air(max(plan.evenings), air, self.studio.calendar.zone)[0]
        when = plan.recording_utc or plan.air_utc
        return when if when is not None else datetime.fromisoformat("2026-01-01T20:00:00+00:00")

    # --- checks -----------------------------------------------------------------------------------------------------

    def check(self, item_id: int, text: str | None = None) -> CheckedText:
        """An item's text, as it is typed (None: as it is kept), sentence by sentence."""
        item = self.kept.item(item_id)
        assert item is not None
        before = stands_before(self.kept.items, item_id)
        return self.check_words(item.text if text is None else text, item, before)

    def check_words(self, text: str, item: EpisodeItem, before: Stand) -> CheckedText:
        return check_text(text, item.sources, self.ground, before, _claim)

    def ground(self, number: int) -> Ground:
        """What is spoken of while a picture stands; 0, and for a picture that is gone: the evening's Moon."""
        item_id = self.kept.numbers.get(number) if number else None
        listed = self.listed.get(item_id) if item_id is not None else None
        place, when = self.studio.config.programme.place, self.evening_utc
        basis = (
            f"sky {when} {place}"
            if listed is None
            else f"{listed.picture.id} {listed.summary and listed.summary.derived_key}"
        )
        key = (f"{self.studio.config.data_dir} {number}", basis)
        if key not in _grounds:
            _grounds[key] = self._ground(number, listed, basis)
            while len(_grounds) > _KEPT_GROUNDS:
                _grounds.popitem(last=False)
        return _grounds[key]

    def _ground(self, number: int, listed: ListedPicture | None, basis: str) -> Ground:
        if listed is None:
            when = self.evening_utc
            sky = sky_picture(when, self.studio.config.programme.place)
            return Ground(number=0, annotation=sky, when=when, basis=basis)
        stored = read_annotation(self.studio.storage, listed.picture.id)
        if stored is None or stored.annotation.pose is None or stored.annotation.terminator is None:
            return Ground(number=number, annotation=None, when=None, basis=basis)
        return Ground(number=number, annotation=stored.annotation, when=time_taken(stored.annotation), basis=basis)

    # --- marks ------------------------------------------------------------------------------------------------------

    def steps(self, plan: AirPlan, items: tuple[EpisodeItem, ...]) -> dict[int, tuple[CueStep, ...]]:
        """What each item's marks put on air, by item. items: in order, as they are spoken."""
        cues = {item.id: _cues(item.text) for item in items}
        every = steps_of(plan, self.kept.numbers, [cue for one in cues.values() for cue in one], self.titles)
        every = tuple(s if s.why is None or s.why.advice != TAKE else self._once_taken(plan, s) for s in every)
        found, at = {}, 0
        for item_id, own in cues.items():
            found[item_id] = every[at : at + len(own)]
            at += len(own)
        return found

    def _once_taken(self, plan: AirPlan, step: CueStep) -> CueStep:
        """A mark that the frames cannot show, told otherwise where its name was taken into them already."""
        if plan.making:
            return replace(step, why=COMING)
        if step.item is None or step.cue.feature not in frame_choice(self.studio.storage, step.item).features:
            return step
        why = f"There is no room in the frame for {step.cue.feature}, or it lies under a plate."
        return replace(step, why=NotFound("mark", why, CLOSER))

    def titles(self, iau: str) -> tuple[str, ...]:
        """How a feature may be called in a frame."""
        local = self.studio.language.local_name(iau)
        return (iau, local, f"{iau} ({local})") if local else (iau,)

    @property
    def features(self) -> tuple[str, ...]:
        """Features that the texts speak of or point at, and those whose names somebody has saved; the IAU's names."""
        facts = [fact.partition(":")[2] for item in self.kept.items for s in item.sources for fact in s.facts]
        cues = [cue.feature for item in self.kept.items for cue in _cues(item.text)]
        known = {feature.name for feature in all_features()}
        return tuple(name for name in dict.fromkeys((*cues, *facts, *self.studio.language.names)) if name in known)

    def take_names(self, plan: AirPlan, who: str, now: datetime) -> tuple[str, ...]:
        """Let the frames show what the texts mean: names, and views; what of that a picture cannot show. What was taken
        before and has no room in the plan's frames gets a close-up."""
        storage = self.studio.storage
        tight: dict[int | None, list[View]] = {}
        for step in (one for found in self.steps(plan, self.kept.items).values() for one in found):
            if step.why is not None and step.why.advice == CLOSER:
                tight.setdefault(step.item, []).append(View(kind=ViewKind.CLOSE_UP, feature=step.cue.feature))
        cues = [cue for item in self.kept.items for cue in _cues(item.text)]
        left: list[str] = []
        for item_id, wanted in wanted_frames(self.kept.numbers, cues).items():
            listed = self.listed.get(item_id)
            stored = read_annotation(storage, listed.picture.id) if listed else None
            if stored is None:
                continue
            shown = []
            for name in wanted.features:
                mark = find_mark(stored.annotation, name)
                if isinstance(mark, NotFound):
                    left.append(f"{name}: {mark.reason}")
                else:
                    shown.append(name)
            left += [f"{name}: {MOST_FEATURES} names are the most of one frame." for name in shown[MOST_FEATURES:]]
            choice = frame_choice(storage, item_id)
            if shown:
                features = tuple(shown[:MOST_FEATURES])
                choose_frame(storage, item_id, FrameChoice(choice.view, choice.zoom, features), who, now)
            views = [
                v
                for v in dict.fromkeys((*wanted.views, *tight.get(item_id, ())))
                if check_tour((v,), stored.annotation) is None
            ]
            tour = with_views(kept_tour(storage, item_id), views) if views else ()
            if tour and check_tour(tour, stored.annotation) is None:
                keep_tour(storage, item_id, tour, who, now)
        return tuple(dict.fromkeys(left))

    # --- what may be spoken -----------------------------------------------------------------------------------------

    @cached_property
    def spoken(self) -> tuple[EpisodeItem, ...]:
        """The items as they may be spoken, and passed on: nobody is named who may not be, or whose picture may not be
        shown."""
        stopped, shown = [], []
        for item in (*self._rundown.items, *self._rundown.out):
            listed = self.listed.get(item.id)
            if listed is None:
                continue
            if reasons_not_to_air(listed, self.studio.config.entry_terms):
                stopped.append((listed, credit_words(item, listed)[0]))
            else:
                shown.append(listed)
        return may_be_spoken(self.kept, withheld_of(stopped), unnamed_of(shown))

    def withheld(self, item: EpisodeItem) -> bool:
        """Whether sentences of an item fall out."""
        return next((one.text for one in self.spoken if one.id == item.id), "") != item.text

    @cached_property
    def _rundown(self) -> Rundown:
        return rundown(self.studio.storage, self.edition.id)

    @cached_property
    def listed(self) -> dict[int, ListedPicture]:
        """Pictures by item of the rundown, those taken out among them."""
        items: list[RundownItem] = [*self._rundown.items, *self._rundown.out]
        listed = {p.picture.id: p for p in list_by_id(self.studio.storage, [i.picture_id for i in items])}
        return {item.id: listed[item.picture_id] for item in items if item.picture_id in listed}


def _cues(text: str) -> list[Cue]:
    return [part for part in read_text(text) if isinstance(part, Cue)]


def _claim(words: str, about: Ground) -> Checked:
    key = (words, about.basis)
    found = _checked.get(key)
    if found is None:
        found = _checked[key] = claim_about(words, about)
        while len(_checked) > _KEPT:
            _checked.popitem(last=False)
    return found
