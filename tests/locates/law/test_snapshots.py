"""Any change of an outcome shows in the diff of fixtures/law/snapshots."""

from __future__ import annotations

import pytest

from locates.law.load import codes
from tests.locates.law.snapshots import FOLDER, text


@pytest.mark.parametrize("code", codes())
def test_outcomes_are_the_frozen_ones(code):
    frozen = (FOLDER / f"{code.lower()}.csv").read_text("utf-8")
    assert text(code) == frozen, "run python -m tests.locates.law.snapshots and read the diff"


def test_every_jurisdiction_is_there():
    assert len(codes()) == 51
    assert {path.stem.upper() for path in FOLDER.glob("*.csv")} == set(codes())
