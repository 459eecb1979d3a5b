"""An episode in the store: its items and texts, two people at once, taking back, and what a forgotten sender leaves."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from fakes import add_edition
from test_rundown_store import send

from moondesk.script.records import OrderTemplate
from moondesk.service.errors import NotStoredError
from moondesk.service.store import episodes, rundowns
from moondesk.service.store.episode_items import EpisodeChangedError, ItemDraft, Source, Value, own_sentences, without
from moondesk.service.store.forget import forget
from moondesk.service.store.records import EditionPlan

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)
TEXT = "[picture 1: as sent] This is how Ilse saw it. [light: Tycho] Tycho is 85 kilometres wide.\n\nLook at it."
SIZE = Source(
    sentence="Tycho is 85 kilometres wide.",
    facts=("size:Tycho",),
    values=(Value(name="width", shown="85", exact="85.29"),),
    picture=1,
)


@pytest.fixture
def edition(storage):
    return add_edition(storage, EditionPlan(number=12))


def kept(storage, edition):
    return episodes.episode(storage, edition.id)


def add(storage, edition, kind, text="", after=0, **more):
    draft = ItemDraft(kind=kind, title=kind.title(), text=text, **more)
    return episodes.add_item(storage, edition.id, draft, after, "Ada", NOW)


def test_items_come_back_as_they_were_typed_and_move(storage, edition):
    with pytest.raises(NotStoredError):
        episodes.add_item(storage, 99, ItemDraft(kind="tour", title=""), 0, "Ada", NOW)
    assert kept(storage, edition).version == 0
    tour = add(storage, edition, "tour", TEXT, sources=(SIZE,))
    opening = add(storage, edition, "opening")
    call = add(storage, edition, "call", after=tour)
    found = kept(storage, edition)
    assert [i.id for i in found.items] == [opening, tour, call]
    assert (found.item(tour).text, found.item(tour).sources) == (TEXT, (SIZE,))
    assert own_sentences(TEXT, (SIZE,)) == ("This is how Ilse saw it.", "Look at it.")
    assert episodes.move_item(storage, edition.id, call, 0, found.version, "Bo", NOW)
    assert not episodes.move_item(storage, edition.id, call, 0, found.version, "Bo", NOW)
    assert [i.id for i in kept(storage, edition).items] == [call, opening, tour]
    with pytest.raises(EpisodeChangedError, match="Bo has changed the order"):
        episodes.move_item(storage, edition.id, tour, 0, found.version, "Ada", NOW)


def test_two_people_type_and_the_second_in_the_same_text_is_told(storage, edition):
    tour, call = add(storage, edition, "tour", TEXT), add(storage, edition, "call")
    seen = kept(storage, edition).version
    first = episodes.change_item(storage, edition.id, tour, {"text": "One."}, seen, "Ada", NOW)
    assert episodes.change_item(storage, edition.id, call, {"text": "Send us more."}, seen, "Bo", NOW) > first
    with pytest.raises(EpisodeChangedError) as told:
        episodes.change_item(storage, edition.id, tour, {"text": "Two."}, seen, "Bo", NOW)
    assert (told.value.theirs, told.value.who) == ("One.", "Ada")
    assert kept(storage, edition).item(tour).text == "One."
    episodes.change_item(storage, edition.id, tour, {"title": "Walk"}, seen, "Bo", NOW)
    assert kept(storage, edition).item(tour).title == "Walk"


def test_what_was_done_last_is_taken_back_and_typing_is_one_change(storage, edition):
    tour = add(storage, edition, "tour", TEXT)
    for k, text in enumerate(("A", "Ab", "Abc")):
        seen = kept(storage, edition).version
        episodes.change_item(storage, edition.id, tour, {"text": text}, seen, "Ada", NOW + timedelta(seconds=k))
    last = episodes.last_change(storage, edition.id)
    assert (last.who, last.fields) == ("Ada", ((tour, "text"),))
    episodes.undo(storage, edition.id, last.version, "Bo", NOW)
    assert kept(storage, edition).item(tour).text == TEXT
    with pytest.raises(EpisodeChangedError):
        episodes.undo(storage, edition.id, last.version, "Bo", NOW)
    episodes.undo(storage, edition.id, episodes.last_change(storage, edition.id).version, "Bo", NOW)
    assert (kept(storage, edition).items, kept(storage, edition).out[0].text) == ((), TEXT)
    assert episodes.last_change(storage, edition.id) is None


def test_a_running_order_with_texts_is_one_change_and_never_writes_over_own_words(storage, edition):
    tour, call = add(storage, edition, "tour", "My own words."), add(storage, edition, "call")
    seen = kept(storage, edition).version
    drafts = (
        ItemDraft(kind="opening", title="Opening", text="Good evening."),
        ItemDraft(kind="tour", title="", id=tour, text=SIZE.sentence, sources=(SIZE,)),
    )
    episodes.write_items(storage, edition.id, drafts, seen, "Ada", NOW, template="half")
    found = kept(storage, edition)
    assert [(i.kind, i.text) for i in found.items] == [("opening", "Good evening."), ("tour", "My own words.")]
    assert [i.id for i in found.out] == [call]
    episodes.write_items(storage, edition.id, drafts[1:], found.version, "Ada", NOW, over_own=True)
    assert kept(storage, edition).item(tour).sources == (SIZE,)
    for _ in range(2):
        episodes.undo(storage, edition.id, episodes.last_change(storage, edition.id).version, "Ada", NOW)
    assert sorted((i.id, i.text) for i in kept(storage, edition).items) == [(tour, "My own words."), (call, "")]
    order = OrderTemplate(name="ours", days=(6.0, 9.0), shares={"opening": 0.2, "tour": 0.8})
    episodes.keep_running_order(storage, order, "Ada", NOW)
    assert episodes.running_orders(storage) == (order,)


def test_a_number_of_a_picture_is_never_given_twice(storage, edition, media):
    ids = [rundowns.add(storage, edition.id, send(storage, edition, n), "Ada", NOW).item_id for n in ("ilse", "bo")]
    assert episodes.number_pictures(storage, edition.id, ids) == {ids[0]: 1, ids[1]: 2}
    forget(storage, media, "bo@example.org", NOW)
    third = rundowns.add(storage, edition.id, send(storage, edition, "cy"), "Ada", NOW).item_id
    assert episodes.number_pictures(storage, edition.id, [third, ids[0]])[third] == 3
    assert kept(storage, edition).numbers == {1: ids[0], 2: None, 3: third}


def test_no_text_names_a_forgotten_sender_nor_can_it_be_taken_back(storage, edition, media):
    other = add_edition(storage, EditionPlan(number=13))
    rundowns.add(storage, edition.id, send(storage, edition, "ilse"), "Ada", NOW)
    tour = add(storage, edition, "tour", TEXT, sources=(SIZE, Source(sentence="This is how Ilse saw it.")))
    recap = add(storage, other, "recap", "Yesterday Ilse showed us Tycho. It is 85 kilometres wide.")
    seen = kept(storage, edition).version
    episodes.change_item(storage, edition.id, tour, {"text": f"{TEXT} Thank you, Ilse!"}, seen, "Ada", NOW)
    seen = kept(storage, edition).version
    forget(storage, media, "ilse@example.org", NOW)
    found = kept(storage, edition)
    assert found.item(tour).text == "[picture 1: as sent] [light: Tycho] Tycho is 85 kilometres wide.\n\nLook at it."
    assert found.item(tour).sources == (SIZE,)
    assert kept(storage, other).item(recap).text == "It is 85 kilometres wide."
    with pytest.raises(EpisodeChangedError, match="An erasure"):  # from a page that was open
        episodes.change_item(storage, edition.id, tour, {"text": f"{TEXT} Ilse"}, seen, "Ada", NOW)
    rows = storage.read("select before, after from episode_changes")
    assert not [row for row in rows if "Ilse" in f"{row['before']}{row['after']}"]
    assert without("[Ask Ilse!] Bo[light: Tycho] saw it. So did we.", lambda s: "saw" in s or "Ilse" in s) == (
        "[light: Tycho] So did we."
    )
