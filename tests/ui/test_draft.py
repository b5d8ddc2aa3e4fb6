"""The table somebody types in: undo and redo against a plain model, and two people at once."""

from __future__ import annotations

from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from ui.draft import MOST_STEPS, Difference, Draft, Lines, differences, joined, lines_of, tidy

COLUMNS = ("lot", "on_hand", "ph")
texts = st.sampled_from(["", "1,5", "40 kg", "=1+1", "<img src=x onerror=alert(1)>", "x" * 10_000, " 3.3 "])
lines = st.tuples(st.sampled_from(["", "A", "B", "C"]), texts, texts)
tables = st.lists(lines, max_size=5)


class AgainstAModel(RuleBasedStateMachine):
    """The model keeps every state it was in, and where in that history it stands."""

    @initialize(saved=tables)
    def begin(self, saved: list[tuple[str, str, str]]) -> None:
        self.draft = Draft.of(COLUMNS, saved, version=1)
        self.history: list[Lines] = [tidy(saved)]
        self.at = 0

    @rule(now=tables)
    def edit(self, now: list[tuple[str, str, str]]) -> None:
        self.draft = self.draft.edited(now)
        if tidy(now) != self.history[self.at]:
            self.history = [*self.history[: self.at + 1], tidy(now)]
            self.at += 1

    @rule()
    def undo(self) -> None:
        self.draft = self.draft.undone()
        self.at = max(0, self.at - 1)

    @rule()
    def redo(self) -> None:
        self.draft = self.draft.redone()
        self.at = min(len(self.history) - 1, self.at + 1)

    @rule()
    def discard(self) -> None:
        self.draft = self.draft.discarded()
        if self.history[0] != self.history[self.at]:
            self.history = [*self.history[: self.at + 1], self.history[0]]
            self.at += 1

    @invariant()
    def agrees(self) -> None:
        if not hasattr(self, "draft"):
            return
        assert self.draft.lines == self.history[self.at]
        assert len(self.draft.past) == self.at
        assert len(self.draft.future) == len(self.history) - 1 - self.at
        filled = [line for line in self.history[self.at] if any(line)]
        assert self.draft.is_changed == (filled != [line for line in self.history[0] if any(line)])


TestAgainstAModel = AgainstAModel.TestCase
TestAgainstAModel.settings = settings(max_examples=examples(50), stateful_step_count=20)


def test_undo_goes_back_a_bounded_number_of_steps() -> None:
    draft = Draft.of(("lot",), [], version=1)
    for number in range(MOST_STEPS + 50):
        draft = draft.edited([(str(number),)])
    assert len(draft.past) == MOST_STEPS
    assert draft.undone().lines == ((str(MOST_STEPS + 48),),)


def test_what_is_typed_stays_as_typed() -> None:
    draft = Draft.of(COLUMNS, [], version=1).edited([("A-1", " 1,5", "=1+1")])
    assert draft.rows() == [{"lot": "A-1", "on_hand": " 1,5", "ph": "=1+1"}]


def test_an_empty_line_in_the_middle_counts_as_a_line_and_as_no_change() -> None:
    draft = Draft.of(("lot",), [("A",), ("B",)], version=1).edited([("A",), ("",), ("B",), ("",)])
    assert [row["lot"] for row in draft.rows()] == ["A", "", "B"]
    assert not draft.is_changed


def test_rows_without_a_column_leave_it_empty() -> None:
    assert lines_of(COLUMNS, [{"lot": "A", "grade": "150"}]) == (("A", "", ""),)


# ---- two people ------------------------------------------------------------------------------------------------------

coded = st.dictionaries(st.sampled_from("ABCD"), st.tuples(texts, texts)).map(
    lambda found: tuple((code, *cells) for code, cells in found.items())
)


@given(base=coded, mine=coded)
def test_nothing_saved_meanwhile_leaves_the_draft_as_it_is(base: Lines, mine: Lines) -> None:
    new, both = joined(Draft.of(COLUMNS, base, version=1).edited(mine), "lot", base, version=2)
    assert (new.lines, both, new.version) == (tidy(mine), (), 2)


@given(base=coded, theirs=coded)
def test_nothing_typed_here_takes_theirs(base: Lines, theirs: Lines) -> None:
    new, both = joined(Draft.of(COLUMNS, base, version=1), "lot", theirs, version=2)
    assert sorted(new.lines) == sorted(theirs)
    assert both == ()
    assert new.saved == theirs


@given(base=coded, mine=coded, theirs=coded)
def test_joined_cell_by_cell(base: Lines, mine: Lines, theirs: Lines) -> None:
    """Worked out a second time, cell by cell: a change of one side stands, of both sides mine stands and is told."""
    draft = Draft.of(COLUMNS, base, version=1).edited(mine)
    new, both = joined(draft, "lot", theirs, version=2)
    old, here, there = ({line[0]: line for line in table} for table in (base, mine, theirs))
    got = {line[0]: line for line in new.lines}
    told = {(one.code, one.column) for one in both}
    for code in {*old, *here, *there}:
        if code in here and code in there:
            for at, column in enumerate(COLUMNS):
                before = old[code][at] if code in old else ""
                mine_cell, their_cell = here[code][at], there[code][at]
                assert got[code][at] == (their_cell if mine_cell == before else mine_cell)
                clash = mine_cell != before and their_cell != before and mine_cell != their_cell
                assert ((code, column) in told) == (clash and column != "lot")
        elif code in here:  # they removed it, or never had it
            stays = code not in old or here[code] != old[code]
            assert (code in got) == stays
            assert ((code, "") in told) == (stays and code in old)
        else:  # I removed it, or never had it
            stays = code in there and there[code] != old.get(code)
            assert (code in got) == stays
            assert ((code, "") in told) == (stays and code in old)
    assert new.undone().lines == draft.lines or new.lines == draft.lines


def test_the_cell_that_both_changed_is_named_with_both_texts() -> None:
    draft = Draft.of(COLUMNS, [("A", "40 kg", "")], version=1).edited([("A", "30 kg", "")])
    new, both = joined(draft, "lot", [("A", "35 kg", "3.3")], version=2)
    assert new.lines == (("A", "30 kg", "3.3"),)
    assert both == (Difference(code="A", column="on_hand", before="40 kg", after="35 kg", mine="30 kg"),)


def test_lines_that_share_a_code_are_not_mixed_up() -> None:
    draft = Draft.of(COLUMNS, [("A", "1", "")], version=1).edited([("A", "1", ""), ("A", "2", "")])
    new, _ = joined(draft, "lot", [("A", "9", "")], version=2)
    assert new.lines == (("A", "1", ""), ("A", "2", ""), ("A", "9", ""))


def test_differences_between_two_states() -> None:
    found = differences(COLUMNS, "lot", (("A", "1", ""), ("B", "", "")), (("A", "2", ""), ("C", "", "")))
    assert [(one.code, one.column, one.before, one.after) for one in found] == [
        ("A", "on_hand", "1", "2"), ("B", "", "B", ""), ("C", "", "", "C"),
    ]  # fmt: skip
