"""What a memo keeps comes back to the last bit; what it cannot trust is made anew."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from latewood.pipeline.warehouse.memo import Memo, age, digest_of, forget_aged, memo_of
from latewood.pipeline.warehouse.packed import result_fields


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    name: str
    value: float | None
    count: int
    sure: bool
    on: date | None


RESULTS = (
    Kept(name="a", value=0.1 + 0.2, count=3, sure=True, on=date(2032, 6, 1)),
    Kept(name="", value=None, count=-1, sure=False, on=None),
    Kept(name="é", value=5e-324, count=0, sure=True, on=None),
)


def entries(root: Path) -> list[Path]:
    return sorted((root / "warehouse" / "memo").glob("*.memo"))


def ask(root: Path, *inputs: object, code: str = "1", reads: bool = True) -> tuple[tuple[Kept, ...], Memo]:
    memo = memo_of(root, code, reads=reads)
    return memo.results(Kept, "kept", inputs, lambda: RESULTS), memo


def test_a_frame_is_hashed_once_and_another_frame_of_its_place_in_memory_is_not_taken_for_it(
    tmp_path: Path,
) -> None:
    memo, made = memo_of(tmp_path, "1"), []

    def make(k: int) -> pd.DataFrame:
        made.append(k)
        return pd.DataFrame({"k": [k]})

    for k in range(50):  # each frame is gone before the next is made
        assert memo.frame("kept", (pd.DataFrame({"x": [k]}),), lambda k=k: make(k))["k"].tolist() == [k]
    assert made == list(range(50))
    same = pd.DataFrame({"x": [7]})
    assert memo.frame("kept", (same,), lambda: make(-1))["k"].tolist() == [7]


def test_results_come_back_as_they_were_made(tmp_path: Path) -> None:
    first, memo = ask(tmp_path, 1)
    assert (first, memo.found, memo.made) == (RESULTS, 0, 1)
    again, memo = ask(tmp_path, 1)
    assert (again, memo.found, memo.made) == (RESULTS, 1, 0)
    assert Memo().results(Kept, "kept", (1,), lambda: RESULTS) == RESULTS


@pytest.mark.parametrize(
    ("inputs", "code", "reads"), [((2,), "1", True), ((1,), "2", True), ((1,), "1", False)]
)
def test_other_inputs_other_code_and_a_fresh_build_make_it_anew(
    tmp_path: Path, inputs: tuple[object, ...], code: str, reads: bool
) -> None:
    ask(tmp_path, 1)
    assert ask(tmp_path, *inputs, code=code, reads=reads)[1].made == 1


@pytest.mark.parametrize("damage", ["cut", "flip", "empty"])
def test_a_damaged_entry_is_made_anew(tmp_path: Path, damage: str) -> None:
    ask(tmp_path, 1)
    path = entries(tmp_path)[0]
    content = bytearray(path.read_bytes())
    content[20] ^= 1
    path.write_bytes({"cut": bytes(content[:40]), "flip": bytes(content), "empty": b""}[damage])
    again, memo = ask(tmp_path, 1)
    assert (again, memo.made) == (RESULTS, 1)
    assert ask(tmp_path, 1)[1].found == 1


def test_a_frame_is_told_apart_by_any_of_its_cells() -> None:
    frame = pd.DataFrame({"a": [1.0, 2.0], "b": ["x", "y"], "on": [date(2032, 6, 1), None]})
    known = digest_of(frame)
    assert digest_of(frame.copy()) == known
    others = [frame.assign(a=[1.0, math.nextafter(2.0, 3.0)]), frame.assign(b=["xy", ""]), frame.iloc[::-1],
              frame.rename(columns={"a": "c"}), frame.assign(on=[None, date(2032, 6, 1)])]  # fmt: skip
    assert len({known, *map(digest_of, others)}) == 1 + len(others)
    assert digest_of("ab", "c") != digest_of("a", "bc")


def test_a_frame_has_one_hash_whatever_it_was_cut_from() -> None:
    def cut(others: int) -> pd.DataFrame:
        names = [None if k % 3 == 0 else f"s{k}" for k in range(20)]
        part = pd.DataFrame({
            "m": "a",
            "name": pd.array(names, "str"),
            "sure": pd.array([True, None] * 10, "boolean"),
        })
        rest = pd.DataFrame({"m": "b", "name": pd.array(["x" * k for k in range(others)], "str")})
        full = pd.concat([part, rest], ignore_index=True).sample(frac=1.0, random_state=others)
        return full[full["m"] == "a"].sort_values(["sure", "name"]).reset_index(drop=True)

    pd.testing.assert_frame_equal(cut(20), cut(37))
    assert digest_of(cut(20)) == digest_of(cut(37))


def test_a_frame_comes_back_the_same_found_or_made(tmp_path: Path) -> None:
    frame = pd.DataFrame({
        "a": [1.5, float("nan")],
        "on": [date(2032, 6, 1), None],
        "in": pd.array([True, None], "boolean"),
    })
    made = memo_of(tmp_path, "1").frame("part", (1,), lambda: frame)
    result = memo_of(tmp_path, "1").frame("part", (1,), lambda: frame)
    pd.testing.assert_frame_equal(made, result, check_exact=True)
    pd.testing.assert_frame_equal(made, Memo().frame("part", (1,), lambda: frame), check_exact=True)


def test_pruning_keeps_what_was_used_and_the_newest_up_to_the_bound(tmp_path: Path) -> None:
    for k in range(4):
        ask(tmp_path, k)
        os.utime(entries(tmp_path)[0].with_name(newest(tmp_path)), (k, k))
    size = entries(tmp_path)[0].stat().st_size
    half_written = tmp_path / "warehouse" / "memo" / ".kept-0.memo.77"
    half_written.write_bytes(b"half")
    memo = ask(tmp_path, 0)[1]
    memo.prune(2 * size + size // 2)
    assert not half_written.exists()
    assert {k for k in range(4) if ask_known(tmp_path, k)} == {0, 3}
    age(tmp_path)
    assert ask(tmp_path, 3)[1].found == 1
    forget_aged(tmp_path)
    assert [k for k in range(4) if ask_known(tmp_path, k)] == [3]


def newest(root: Path) -> str:
    return max(entries(root), key=lambda p: p.stat().st_mtime).name


def ask_known(root: Path, k: int) -> bool:
    memo = memo_of(root, "1")
    name = f"kept-{digest_of(memo.salt, 'kept', k)}.memo"
    return (root / "warehouse" / "memo" / name).exists()


def test_a_field_that_is_not_plain_is_refused() -> None:
    @dataclass(frozen=True)
    class Nested:
        parts: tuple[int, ...]

    with pytest.raises(TypeError, match=r"Nested.parts: .* cannot be kept in a memo"):
        result_fields(Nested)
