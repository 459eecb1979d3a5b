"""The rundown in the store: order, what two people change at once, undoing, and what a forgotten person leaves."""

from __future__ import annotations

import random
import threading
from datetime import UTC, datetime, timedelta

import pytest
from fakes import add_edition

from moondesk.sentences import sentences_of
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.store import receipts, rundowns
from moondesk.service.store.aired import appearances
from moondesk.service.store.decisions import ChangedMeanwhileError
from moondesk.service.store.forget import forget, submissions_of
from moondesk.service.store.messages import in_words
from moondesk.service.store.records import Arrival, EditionPlan, Enclosure, Pair, SketchRow, sender_key
from moondesk.service.store.rundown_items import MOST_ITEMS, RundownChangedError, move_after
from moondesk.service.store.storage import Storage
from moondesk.service.store.strays import faults
from moondesk.service.store.submissions import add_submission
from moondesk.service.store.versions import keep_sketch, settle

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)
LATER = NOW + timedelta(minutes=5)


def send(storage, edition, sender, refused=None, receipt=None, name=None):
    """Store a picture by somebody; its id."""
    sha = f"{random.Random(f'{sender}{name}{refused}').getrandbits(256):064x}"
    arrival = Arrival(
        key=f"file:{sha}",
        source="form",
        origin="x",
        enclosures=(
            Enclosure(
                given_name=f"{sender}.png",
                size_bytes=9,
                sha256=None if refused else sha,
                media_type="image/png",
                refusal=sentences_of(refused or ""),
            ),
        ),
        received_utc=NOW,
        sender_name=name or sender.title(),
        sender_address=f"{sender}@example.org" if name is None else "",
        receipt=receipt,
    )
    submission = add_submission(storage, edition.id, arrival, NOW)
    (row,) = storage.read("select id from pictures where submission_id = ?", [submission])
    return row["id"]


@pytest.fixture
def edition(storage):
    return add_edition(storage, EditionPlan(number=12))


@pytest.fixture
def four(storage, edition):
    """Item ids of four pictures in a rundown, in order."""
    return [
        rundowns.add(storage, edition.id, send(storage, edition, name), "Ada", NOW).item_id
        for name in ("ilse", "bo", "cy", "dora")
    ]


def standing(storage, edition):
    return [i.id for i in rundowns.rundown(storage, edition.id).items]


def version(storage, edition):
    return rundowns.rundown(storage, edition.id).version


def test_an_edition_without_picks_has_an_empty_rundown(storage, edition):
    found = rundowns.rundown(storage, edition.id)
    assert (found.version, found.items, found.out, found.seconds) == (0, (), (), None)
    with pytest.raises(NotStoredError):
        rundowns.add(storage, 99, 1, "Ada", NOW)
    with pytest.raises(NotStoredError):
        rundowns.add(storage, edition.id, 99, "Ada", NOW)
    assert version(storage, edition) == 0


def test_picks_stand_at_the_end_in_turn_and_a_second_pick_is_told(storage, edition):
    ilse, bo = send(storage, edition, "ilse"), send(storage, edition, "bo")
    first = rundowns.add(storage, edition.id, ilse, "Ada", NOW)
    second = rundowns.add(storage, edition.id, bo, "Bea", LATER)
    again = rundowns.add(storage, edition.id, ilse, "Bea", LATER)
    assert [(a.place, a.how, a.version) for a in (first, second, again)] == [
        (1, "added", 1),
        (2, "added", 2),
        (1, "already", 2),
    ]
    assert again.item_id == first.item_id
    item = rundowns.rundown(storage, edition.id).items[1]
    assert (item.picture_id, item.added_by, item.added_utc, item.credit_line) == (bo, "Bea", LATER, None)
    assert rundowns.picked_ids(storage, edition.id) == {ilse, bo}


def test_what_cannot_be_used_is_not_picked_and_a_rundown_has_an_end(storage, edition):
    with pytest.raises(BadInputError, match="a web page"):
        rundowns.add(storage, edition.id, send(storage, edition, "eve", refused="The file is a web page."), "Ada", NOW)
    for k in range(MOST_ITEMS):
        rundowns.add(storage, edition.id, send(storage, edition, f"s{k}"), "Ada", NOW)
    with pytest.raises(BadInputError, match="at most"):
        rundowns.add(storage, edition.id, send(storage, edition, "late"), "Ada", NOW)


def test_the_best_version_is_picked_and_a_better_one_that_comes_later_is_told(storage, edition):
    small, large, larger = (send(storage, edition, "ilse", name=n) for n in ("a", "b", "c"))
    with storage.writing():
        for picture_id in (small, large, larger):
            keep_sketch(storage, SketchRow(picture_id=picture_id, sketch=b"x"))
    settle(
        storage,
        large,
        [
            Pair(
                picture_id=large,
                other_id=small,
                kind="version_of",
                better_id=large,
                message=in_words("the same, larger"),
            )
        ],
    )
    added = rundowns.add(storage, edition.id, small, "Ada", NOW)
    assert added.picture_id == large
    before = rundowns.mark(storage, edition.id)
    settle(
        storage,
        larger,
        [
            Pair(
                picture_id=larger,
                other_id=large,
                kind="version_of",
                better_id=larger,
                message=in_words("the same, larger"),
            )
        ],
    )
    assert rundowns.mark(storage, edition.id) != before
    (item,) = rundowns.rundown(storage, edition.id).items
    assert (item.picture_id, item.better_id) == (large, larger)  # nothing is exchanged by itself
    assert rundowns.add(storage, edition.id, larger, "Ada", NOW).how == "already"
    assert rundowns.picked_ids(storage, edition.id) == {large, larger}
    assert rundowns.take_better(storage, edition.id, item.id, "Ada", NOW)
    (item,) = rundowns.rundown(storage, edition.id).items
    assert (item.picture_id, item.better_id) == (larger, None)
    assert not rundowns.take_better(storage, edition.id, item.id, "Ada", NOW)


def test_moves(storage, edition, four):
    a, b, c, d = four
    v = version(storage, edition)
    assert rundowns.move(storage, edition.id, d, 0, v, "Ada", NOW)
    assert standing(storage, edition) == [d, a, b, c]
    assert rundowns.move(storage, edition.id, a, c, v, "Ada", NOW)
    assert standing(storage, edition) == [d, b, c, a]
    assert not rundowns.move(storage, edition.id, a, c, version(storage, edition), "Ada", NOW)
    assert not rundowns.move(storage, edition.id, a, a, version(storage, edition), "Ada", NOW)
    assert version(storage, edition) == v + 2
    with pytest.raises(NotStoredError):
        rundowns.move(storage, edition.id, a, 77, v, "Ada", NOW)


@pytest.mark.parametrize(
    ("order", "item", "after", "want"),
    [([1, 2, 3], 3, 0, [3, 1, 2]), ([1, 2, 3], 1, 3, [2, 3, 1]), ([1, 2, 3], 2, 1, [1, 2, 3])],
)
def test_placed_after(order, item, after, want):
    assert move_after(order, item, after) == want
    with pytest.raises(ValueError, match="not in"):
        move_after(order, 9, 0)


def test_two_people_who_change_different_things_lose_nothing(storage, edition, four):
    a, b, c, d = four
    seen = version(storage, edition)  # both look at the same page
    rundowns.edit(storage, edition.id, a, {"seconds": 90}, seen, "Ada", NOW)
    rundowns.edit(storage, edition.id, a, {"seconds": 60, "pronunciation": "IL-zuh"}, seen, "Bea", NOW)
    rundowns.edit(storage, edition.id, b, {"note": "after the weather"}, seen, "Ada", NOW)
    rundowns.move(storage, edition.id, d, 0, seen, "Ada", NOW)
    rundowns.move(storage, edition.id, c, 0, seen, "Bea", NOW)
    rundowns.take_out(storage, edition.id, b, version(storage, edition), "Ada", NOW)
    late = rundowns.add(storage, edition.id, send(storage, edition, "late"), "Bea", NOW)
    rundowns.move(storage, edition.id, a, b, seen, "Bea", NOW)  # b is out: it keeps its place, and what is beside it
    found = rundowns.rundown(storage, edition.id)
    assert [i.id for i in found.items] == [c, d, a, late.item_id]
    assert (found.item(a).seconds, found.item(a).pronunciation) == (90, "IL-zuh")
    assert found.item(b).note == "after the weather"


def test_the_same_field_changed_by_two_is_a_clash_that_shows_both(storage, edition, four):
    a, seen = four[0], version(storage, edition)
    rundowns.edit(storage, edition.id, a, {"seconds": 90, "note": "first"}, seen, "Ada", NOW)
    rundowns.edit(storage, edition.id, a, {"credit_line": "Ilse K."}, seen, "Ada", NOW)
    typed = {"seconds": 120, "note": "", "pronunciation": "IL-zuh", "credit_line": None}
    with pytest.raises(RundownChangedError, match="Ada has changed the same meanwhile") as caught:
        rundowns.edit(storage, edition.id, a, typed, seen, "Bea", LATER)
    assert caught.value.http_status == 409
    assert isinstance(caught.value, ChangedMeanwhileError)
    assert [(c.field, c.mine, c.theirs, c.who) for c in caught.value.clashes] == [("seconds", 120, 90, "Ada")]
    # What Bea typed, and where she typed nothing what stands now: saving that again changes no more than she meant.
    assert caught.value.merged == {"seconds": 120, "note": "first", "pronunciation": "IL-zuh", "credit_line": "Ilse K."}
    item = rundowns.rundown(storage, edition.id).item(a)
    assert (item.seconds, item.pronunciation) == (90, "")  # nothing of it was written
    changed = rundowns.edit(storage, edition.id, a, caught.value.merged, version(storage, edition), "Bea", LATER)
    assert set(changed) == {"seconds", "pronunciation"}
    assert rundowns.rundown(storage, edition.id).item(a).credit_line == "Ilse K."


def test_two_who_want_the_same_do_not_clash(storage, edition, four):
    seen = version(storage, edition)
    rundowns.edit(storage, edition.id, four[0], {"seconds": 90}, seen, "Ada", NOW)
    assert rundowns.edit(storage, edition.id, four[0], {"seconds": 90}, seen, "Bea", NOW) == ()
    rundowns.move(storage, edition.id, four[0], four[2], seen, "Ada", NOW)
    assert not rundowns.move(storage, edition.id, four[0], four[2], seen, "Bea", NOW)
    rundowns.take_out(storage, edition.id, four[3], seen, "Ada", NOW)
    assert not rundowns.take_out(storage, edition.id, four[3], seen, "Bea", NOW)
    with pytest.raises(ValueError, match="no position"):
        rundowns.edit(storage, edition.id, four[0], {"position": 3}, seen, "Bea", NOW)


def test_clashes_of_moves_and_of_what_was_taken_out(storage, edition, four):
    a, b, c, _ = four
    seen = version(storage, edition)
    rundowns.move(storage, edition.id, a, c, seen, "Ada", NOW)
    with pytest.raises(RundownChangedError, match="to place 3 meanwhile; you wanted place 2"):
        rundowns.move(storage, edition.id, a, b, seen, "Bea", NOW)
    rundowns.edit(storage, edition.id, b, {"seconds": 90}, seen, "Ada", NOW)
    with pytest.raises(RundownChangedError, match="not taken out"):
        rundowns.take_out(storage, edition.id, b, seen, "Bea", NOW)
    rundowns.take_out(storage, edition.id, c, seen, "Ada", NOW)
    with pytest.raises(RundownChangedError, match="Ada has taken this picture out") as caught:
        rundowns.edit(storage, edition.id, c, {"note": "typed at length"}, seen, "Bea", NOW)
    assert caught.value.merged["note"] == "typed at length"
    with pytest.raises(RundownChangedError, match="not moved"):
        rundowns.move(storage, edition.id, c, 0, seen, "Bea", NOW)
    rundowns.set_time(storage, edition.id, 600, seen, "Ada", NOW)
    with pytest.raises(RundownChangedError, match="Ada has set the time"):
        rundowns.set_time(storage, edition.id, 900, seen, "Bea", NOW)
    assert rundowns.set_time(storage, edition.id, None, version(storage, edition), "Bea", NOW)


def test_what_was_taken_out_is_put_back_with_all_that_was_typed(storage, edition, four):
    a, b, c, d = four
    rundowns.edit(storage, edition.id, b, {"note": "kept", "seconds": 75}, 99, "Ada", NOW)
    rundowns.take_out(storage, edition.id, b, 99, "Ada", NOW)
    rundowns.take_out(storage, edition.id, c, 99, "Bea", LATER)
    found = rundowns.rundown(storage, edition.id)
    assert [(i.id, i.out_by, i.out_utc) for i in found.out] == [(c, "Bea", LATER), (b, "Ada", NOW)]
    assert rundowns.put_back(storage, edition.id, b, "Ada", LATER)
    assert standing(storage, edition) == [a, b, d]  # where it stood
    assert not rundowns.put_back(storage, edition.id, b, "Ada", LATER)
    rundowns.take_out(storage, edition.id, b, 99, "Ada", NOW)
    back = rundowns.add(storage, edition.id, rundowns.rundown(storage, edition.id).item(b).picture_id, "Ada", LATER)
    assert (back.how, back.item_id, back.place) == ("back", b, 3)  # picked again: at the end
    assert standing(storage, edition) == [a, d, b]
    item = rundowns.rundown(storage, edition.id).item(b)
    assert (item.note, item.seconds, item.out_utc) == ("kept", 75, None)
    newest = rundowns.history(storage, edition.id)[0]
    assert (newest.what, newest.item_id, newest.who) == ("put_back", b, "Ada")


def test_the_first_of_all_taken_out_and_picked_again_stays_alone(storage, edition):
    picture = send(storage, edition, "ilse")
    added = rundowns.add(storage, edition.id, picture, "Ada", NOW)
    rundowns.take_out(storage, edition.id, added.item_id, added.version, "Ada", NOW)
    assert rundowns.add(storage, edition.id, picture, "Ada", NOW).how == "back"
    assert standing(storage, edition) == [added.item_id]


def test_many_hands_at_once_lose_nothing(storage, edition, config, four):
    """Four people, each with a connection of their own, add and move as fast as they can."""
    pictures = [[send(storage, edition, f"p{n}-{k}") for k in range(5)] for n in range(4)]
    failures = []

    def work(n):
        try:
            with Storage(config.data_dir) as mine:
                for picture in pictures[n]:
                    added = rundowns.add(mine, edition.id, picture, f"person {n}", NOW)
                    rundowns.move(mine, edition.id, added.item_id, four[n], added.version, f"person {n}", NOW)
                    rundowns.edit(mine, edition.id, four[n], {"note": f"{picture}"}, added.version, f"person {n}", NOW)
        except Exception as error:
            failures.append(error)

    threads = [threading.Thread(target=work, args=(n,)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failures
    found = rundowns.rundown(storage, edition.id)
    assert {i.picture_id for i in found.items} >= {p for own in pictures for p in own}
    assert [i.position for i in found.items] == list(range(1, 25))
    changes = rundowns.history(storage, edition.id, 1000)
    assert [c.version for c in reversed(changes)] == list(range(1, found.version + 1))
    for n in range(4):  # each stands behind its own anchor, the last one first
        at = next(k for k, i in enumerate(found.items) if i.id == four[n])
        assert [i.picture_id for i in found.items[at + 1 : at + 6]] == pictures[n][::-1]
        assert found.items[at].note == str(pictures[n][-1])


def test_on_air_is_told_to_the_sender_and_can_be_taken_back(storage, edition):
    picture = send(storage, edition, "ilse", receipt=receipts.receipt_hash("t" * 20))
    added = rundowns.add(storage, edition.id, picture, "Ada", NOW)
    assert rundowns.note_aired(storage, edition.id, [added.item_id], LATER, "Ada", LATER) == 1
    assert rundowns.note_aired(storage, edition.id, [added.item_id], NOW, "Ada", LATER) == 0
    assert receipts.receipt(storage, "t" * 20).pictures[0].aired_utc == LATER
    assert rundowns.rundown(storage, edition.id).items[0].aired_utc == LATER
    rundowns.note_aired(storage, edition.id, [added.item_id], None, "Ada", LATER)
    assert receipts.receipt(storage, "t" * 20).pictures[0].aired_utc is None
    assert appearances(storage) == ()


def test_who_was_on_air_lately(storage):
    editions = [add_edition(storage, EditionPlan(number=n)) for n in (7, 8, 9, 10)]
    by_edition = {7: ("ilse",), 8: ("bo", "cy"), 10: ("dora",)}
    pictures = {}
    for edition in editions:
        for sender in by_edition.get(edition.plan.number, ()):
            pictures[sender] = send(storage, edition, sender)
            added = rundowns.add(storage, edition.id, pictures[sender], "Ada", NOW)
            if sender != "cy":
                rundowns.note_aired(storage, edition.id, [added.item_id], LATER, "Ada", LATER)
    assert [(a.picture_id, a.sender, a.edition_number) for a in appearances(storage)] == [
        (pictures["dora"], "dora@example.org", 10),
        (pictures["bo"], "bo@example.org", 8),
        (pictures["ilse"], "ilse@example.org", 7),
    ]
    assert {a.sender for a in appearances(storage, 2)} == {  # 9 showed nothing
        sender_key(f"{name}@Example.org", "") for name in ("Bo", "Dora")
    }
    assert [a.sender for a in appearances(storage, 1, before=10)] == ["bo@example.org"]
    rundowns.add(storage, editions[3].id, pictures["bo"], "Ada", NOW)
    assert rundowns.rundown(storage, editions[3].id).items[1].aired_before == (8,)


def test_who_is_forgotten_leaves_no_item_and_no_word(storage, media, edition, four):
    a, b, c, d = four
    rundowns.edit(storage, edition.id, b, {"credit_line": "Bo Unmistakable", "pronunciation": "boh"}, 99, "Ada", NOW)
    rundowns.edit(storage, edition.id, b, {"credit_line": "Bo Quite Unmistakable"}, 99, "Ada", NOW)
    rundowns.take_out(storage, edition.id, c, 99, "Ada", NOW)
    before = version(storage, edition)
    assert submissions_of(storage, "bo@example.org")
    forget(storage, media, "bo@example.org", LATER)
    forget(storage, media, "cy@example.org", LATER)
    found = rundowns.rundown(storage, edition.id)
    assert [i.id for i in found.items] == [a, d]
    assert found.out == ()
    assert (found.withdrawn, found.version) == (1, before + 1)  # what was out already is no gap that anybody sees
    assert {c.item_id for c in rundowns.history(storage, edition.id, 100)} == {a, d}
    assert "Unmistakable" not in "".join(storage._db.iterdump())
    assert faults(storage) == ()
    with pytest.raises(NotStoredError, match="not in the rundown any more"):
        rundowns.edit(storage, edition.id, b, {"note": "late"}, before, "Bea", LATER)
    assert rundowns.move(storage, edition.id, d, 0, before, "Bea", LATER)


def test_nobody_changes_anything_without_a_name(storage, edition, four):
    with pytest.raises(ValueError, match="who"):
        rundowns.put_back(storage, edition.id, four[0], " ", NOW)
